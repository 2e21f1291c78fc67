"""Listening to a device that nobody has described, until the load is at rest; the one part that waits."""

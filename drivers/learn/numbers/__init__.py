"""Bytes read as numbers, and how well each follows the known loads: scale, offset, step, noise, lag."""

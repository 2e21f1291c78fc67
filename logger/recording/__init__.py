"""The journal, the recordings on disk, and what goes in and out of them."""

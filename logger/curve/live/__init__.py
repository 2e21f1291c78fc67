"""The same events and pours while they happen, in constant memory."""

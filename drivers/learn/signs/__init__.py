"""How a number says that it is below nought: by its own bits, or by a byte or bit that stands apart."""

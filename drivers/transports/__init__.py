"""How bytes arrive."""

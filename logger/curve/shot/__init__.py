"""An espresso: its shots, their shape and their figures."""

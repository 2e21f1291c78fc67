"""Checks over the bytes of a frame, and the search for one: sums, exclusive or, cyclic checks."""

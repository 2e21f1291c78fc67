"""Curves made fit to be drawn: from the brew's start, thinned, many on one axis; where words may lie."""

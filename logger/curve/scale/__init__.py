"""The scale's own lag: from the step of a vessel, or from how the edges of the pours are rounded."""

"""Figures: what is drawn of a brew, a bed, a cup and a practice set, in colours for light and dark."""

"""What the terminal shows: while it brews, after a brew, after many."""

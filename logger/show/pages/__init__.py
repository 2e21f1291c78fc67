"""Pages of HTML: each one file that needs no network."""

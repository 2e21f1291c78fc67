"""Temperatures at the moments that matter: in the kettle, in the slurry, and where the probe was out."""

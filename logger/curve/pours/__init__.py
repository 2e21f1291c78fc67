"""Pours: stretches in which water arrives, with their edges, their grams, and how sure those are."""

"""Figures, report, terminal summary: what the brewer sees."""

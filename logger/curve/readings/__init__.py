"""Readings on an even grid of time: when they were taken, in which unit, and what a scale can tell apart."""

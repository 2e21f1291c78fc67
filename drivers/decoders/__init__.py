"""Bytes to measurements: pure functions, one file per line shape or open standard."""

"""Target files: reading, checking, scaling, drawing, learning."""

from logger.target.target import Shot, Stage, Target, Tolerance

__all__ = ["Shot", "Stage", "Target", "Tolerance"]

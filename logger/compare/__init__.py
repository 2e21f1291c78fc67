"""One brew against its target; many brews against each other."""

from logger.compare.comparison import Brew, Comparison, Deviation, Finding, Quantity, StageResult

__all__ = ["Brew", "Comparison", "Deviation", "Finding", "Quantity", "StageResult"]

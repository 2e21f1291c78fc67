"""One brew against its target; many brews against each other.

The names are loaded when first used: they bring numpy and pandas with them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.lazy import loaded_from

if TYPE_CHECKING:
    from logger.compare.brew import assess, compare
    from logger.compare.comparison import Brew, Comparison, Deviation, Finding, Quantity, StageResult
    from logger.compare.evenness import Spread, spread
    from logger.compare.matching import Group, Matching, match
    from logger.compare.practice import Practice, Scatter, StageSpread, study

_PUBLIC = {
    "Brew": "logger.compare.comparison",
    "Comparison": "logger.compare.comparison",
    "Deviation": "logger.compare.comparison",
    "Finding": "logger.compare.comparison",
    "Group": "logger.compare.matching",
    "Matching": "logger.compare.matching",
    "Quantity": "logger.compare.comparison",
    "Practice": "logger.compare.practice.results",
    "Scatter": "logger.compare.practice.results",
    "Spread": "logger.compare.evenness",
    "StageResult": "logger.compare.comparison",
    "StageSpread": "logger.compare.practice.results",
    "assess": "logger.compare.brew",
    "compare": "logger.compare.brew",
    "match": "logger.compare.matching",
    "spread": "logger.compare.evenness",
    "study": "logger.compare.practice.studying",
}

__all__ = [
    "Brew",
    "Comparison",
    "Deviation",
    "Finding",
    "Group",
    "Matching",
    "Practice",
    "Quantity",
    "Scatter",
    "Spread",
    "StageResult",
    "StageSpread",
    "assess",
    "compare",
    "match",
    "spread",
    "study",
]

__getattr__ = loaded_from(__name__, _PUBLIC)

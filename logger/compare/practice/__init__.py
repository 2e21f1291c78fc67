"""The statistics of practice: how even the cups are, and what to change next.

``study`` makes a ``Practice`` of brews of one target, ``contrast`` compares two of them, ``to_json`` gives
either as plain data. The names are loaded when first used: they bring numpy and scipy with them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.lazy import loaded_from

if TYPE_CHECKING:
    from logger.compare.practice.contrasting import contrast
    from logger.compare.practice.contrasts import Contrast, TwoSets
    from logger.compare.practice.estimates import (
        ControlChart,
        Estimate,
        Signal,
        ToleranceInterval,
    )
    from logger.compare.practice.json_form import to_json
    from logger.compare.practice.results import (
        Fix,
        NextCup,
        OddPosition,
        Positions,
        Practice,
        PracticeBrew,
        Scatter,
        StageSpread,
    )
    from logger.compare.practice.studying import study

_ESTIMATES, _RESULTS = "logger.compare.practice.estimates", "logger.compare.practice.results"
_CONTRASTS = "logger.compare.practice.contrasts"
_PUBLIC = {
    "Contrast": _CONTRASTS,
    "ControlChart": _ESTIMATES,
    "Estimate": _ESTIMATES,
    "Fix": _RESULTS,
    "NextCup": _RESULTS,
    "OddPosition": _RESULTS,
    "Positions": _RESULTS,
    "Practice": _RESULTS,
    "PracticeBrew": _RESULTS,
    "Scatter": _RESULTS,
    "Signal": _ESTIMATES,
    "StageSpread": _RESULTS,
    "ToleranceInterval": _ESTIMATES,
    "TwoSets": _CONTRASTS,
    "contrast": "logger.compare.practice.contrasting",
    "study": "logger.compare.practice.studying",
    "to_json": "logger.compare.practice.json_form",
}

__all__ = [
    "Contrast",
    "ControlChart",
    "Estimate",
    "Fix",
    "NextCup",
    "OddPosition",
    "Positions",
    "Practice",
    "PracticeBrew",
    "Scatter",
    "Signal",
    "StageSpread",
    "ToleranceInterval",
    "TwoSets",
    "contrast",
    "study",
    "to_json",
]

__getattr__ = loaded_from(__name__, _PUBLIC)

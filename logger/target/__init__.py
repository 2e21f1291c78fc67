"""Target files: reading, checking, scaling, drawing, learning.

What needs numpy is loaded when first used, so that reading a target costs little.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.lazy import loaded_from
from logger.target.calls import Calls, Words
from logger.target.target import Keep, Shot, Stage, Target, Tolerance

if TYPE_CHECKING:
    from drivers.toml_mistakes import Mistake
    from logger.target.checking import check_target
    from logger.target.drawing import draw_target
    from logger.target.learning import learn_target, served_s
    from logger.target.mistakes import TargetError
    from logger.target.planned import Span, corridor, curve, first_weight_s, last_s, stage_spans
    from logger.target.reading import parse_target, read_target
    from logger.target.scaling import scale_target
    from logger.target.venue import check_at_venue, out_of_reach, reachable
    from logger.target.writing import write_target

_PUBLIC = {
    "Mistake": "drivers.toml_mistakes",
    "Span": "logger.target.planned",
    "TargetError": "logger.target.mistakes",
    "check_at_venue": "logger.target.venue",
    "check_target": "logger.target.checking",
    "corridor": "logger.target.planned",
    "curve": "logger.target.planned",
    "draw_target": "logger.target.drawing",
    "first_weight_s": "logger.target.planned",
    "last_s": "logger.target.planned",
    "learn_target": "logger.target.learning",
    "out_of_reach": "logger.target.venue",
    "parse_target": "logger.target.reading",
    "reachable": "logger.target.venue",
    "read_target": "logger.target.reading",
    "scale_target": "logger.target.scaling",
    "served_s": "logger.target.learning",
    "stage_spans": "logger.target.planned",
    "write_target": "logger.target.writing",
}

__all__ = [
    "Calls",
    "Keep",
    "Mistake",
    "Shot",
    "Span",
    "Stage",
    "Target",
    "TargetError",
    "Tolerance",
    "Words",
    "check_at_venue",
    "check_target",
    "corridor",
    "curve",
    "draw_target",
    "first_weight_s",
    "last_s",
    "learn_target",
    "out_of_reach",
    "parse_target",
    "reachable",
    "read_target",
    "scale_target",
    "served_s",
    "stage_spans",
    "write_target",
]

__getattr__ = loaded_from(__name__, _PUBLIC)

"""Flow, events and pours from a weight curve; whole recordings and live. Imports numpy alone."""

from logger.curve.analysis import analyse
from logger.curve.bed.drawdown import Drawdown, Tail, drawdown_by_one_scale
from logger.curve.bed.resistance import Bed, conductivity_mm_s, read_bed
from logger.curve.bed.stretches import Stretch
from logger.curve.bed.two_scales import Arrangement
from logger.curve.brew import METHODS, Analysis, Event, EventKind, Floats, Method, Pour
from logger.curve.live.ending import is_over
from logger.curve.live.while_it_runs import Change, LiveAnalysis

__all__ = [
    "METHODS",
    "Analysis",
    "Arrangement",
    "Bed",
    "Change",
    "Drawdown",
    "Event",
    "EventKind",
    "Floats",
    "LiveAnalysis",
    "Method",
    "Pour",
    "Stretch",
    "Tail",
    "analyse",
    "conductivity_mm_s",
    "drawdown_by_one_scale",
    "is_over",
    "read_bed",
]

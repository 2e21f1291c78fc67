"""Flow, events and pours from a weight curve; whole recordings and live. Imports numpy alone."""

from logger.curve.analysis import analyse
from logger.curve.brew import METHODS, Analysis, Event, EventKind, Floats, Method, Pour
from logger.curve.ending import is_over
from logger.curve.live import Change, LiveAnalysis

__all__ = [
    "METHODS",
    "Analysis",
    "Change",
    "Event",
    "EventKind",
    "Floats",
    "LiveAnalysis",
    "Method",
    "Pour",
    "analyse",
    "is_over",
]

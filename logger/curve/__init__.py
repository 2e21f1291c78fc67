"""Flow, events and pours from a weight curve; whole recordings and live. Imports numpy alone."""

from logger.curve.analysis import analyse
from logger.curve.brew import METHODS, Analysis, Event, EventKind, Floats, Method, Pour

__all__ = ["METHODS", "Analysis", "Event", "EventKind", "Floats", "Method", "Pour", "analyse"]

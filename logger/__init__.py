"""evencup's record of a brew: recording, curve, target, comparison, and what to show of them.

The public names are loaded when first used, so that ``import logger`` costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.lazy import loaded_from
from logger.version import VERSION

if TYPE_CHECKING:
    from logger.curve import Analysis, Bed, Event, LiveAnalysis, Pour, analyse, read_bed
    from logger.recording import Recording
    from logger.show.notebook import PracticeSet, practice
    from logger.target import Target

__version__ = VERSION

_PUBLIC = {
    "Analysis": "logger.curve",
    "Bed": "logger.curve",
    "Event": "logger.curve",
    "LiveAnalysis": "logger.curve",
    "Pour": "logger.curve",
    "analyse": "logger.curve",
    "practice": "logger.show.notebook",
    "read_bed": "logger.curve",
    "PracticeSet": "logger.show.notebook",
    "Recording": "logger.recording",
    "Target": "logger.target",
}

__all__ = [
    "Analysis",
    "Bed",
    "Event",
    "LiveAnalysis",
    "Pour",
    "PracticeSet",
    "Recording",
    "Target",
    "analyse",
    "practice",
    "read_bed",
]

__getattr__ = loaded_from(__name__, _PUBLIC)

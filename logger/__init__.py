"""evencup's record of a brew: recording, curve, target, comparison, and what to show of them.

The public names are loaded when first used, so that ``import logger`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from logger.version import VERSION

if TYPE_CHECKING:
    from logger.curve import Analysis, Event, LiveAnalysis, Pour, analyse
    from logger.recording import Recording
    from logger.target import Target

__version__ = VERSION

_PUBLIC = {
    "Analysis": "logger.curve",
    "Event": "logger.curve",
    "LiveAnalysis": "logger.curve",
    "Pour": "logger.curve",
    "analyse": "logger.curve",
    "Recording": "logger.recording",
    "Target": "logger.target",
}

__all__ = ["Analysis", "Event", "LiveAnalysis", "Pour", "Recording", "Target", "analyse"]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'logger' has no attribute {name!r}")
    return getattr(import_module(_PUBLIC[name]), name)

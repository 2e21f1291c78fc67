"""The brain of live guidance: readings and a target come in, what to say and show now comes out.

Pure: no clock, no printing, no file. Every screen shows the same :class:`Cue`. What needs numpy is loaded
when first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.guide.cue import Call, Cue, DeviceState, Moment, PlanChange, Sound, StageCue, Verdict, Water
from logger.guide.hand import Hand, Outcome
from logger.guide.listener import CueListener
from logger.lazy import loaded_from

if TYPE_CHECKING:
    from logger.guide.guiding import Guide
    from logger.guide.plan import Plan

_PUBLIC = {"Guide": "logger.guide.guiding", "Plan": "logger.guide.plan"}

__all__ = [
    "Call",
    "Cue",
    "CueListener",
    "DeviceState",
    "Guide",
    "Hand",
    "Moment",
    "Outcome",
    "Plan",
    "PlanChange",
    "Sound",
    "StageCue",
    "Verdict",
    "Water",
]

__getattr__ = loaded_from(__name__, _PUBLIC)

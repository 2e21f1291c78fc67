"""The espressos of a recording, and the one that is held against the target."""

from __future__ import annotations

import math
from collections.abc import Mapping

from logger.curve import Analysis
from logger.curve.shot.figures import ShotFigures
from logger.curve.shot.shots import analysis_of_shot, main_shot, shots_of

PUMP_MARK = "pump"
"""The mark of a recording that says when the pump started."""


def shots_in(analysis: Analysis, marks: Mapping[str, float]) -> tuple[ShotFigures, ...]:
    """Read the espressos of a recording; none where it holds another kind of brew."""
    if analysis.method != "espresso" or not analysis.pours:
        return ()
    return shots_of(analysis, _pump_s(marks))


def held_shot(analysis: Analysis, marks: Mapping[str, float]) -> tuple[Analysis, Mapping[str, float], str]:
    """The espresso that is held against a target: its own analysis, its own marks, and a note or nothing.

    A mark of the pump that cannot be this shot's is left out.
    """
    shots = shots_of(analysis, _pump_s(marks))
    shot = main_shot(shots)
    if shot is None:
        return analysis, marks, ""
    own = {name: at_s for name, at_s in marks.items() if name != PUMP_MARK}
    if shot.pump_s is not None:
        own[PUMP_MARK] = shot.pump_s
    note = ""
    if len(shots) > 1:
        which = "first" if shot is shots[0] else f"one at place {shots.index(shot) + 1}"
        note = f"There are {len(shots)} espressos in this recording: the {which} is held against the target."
    return analysis_of_shot(analysis, shot), own, note


def _pump_s(marks: Mapping[str, float]) -> float | None:
    """When the pump was started, as marked; None where it was not."""
    pump_s = marks.get(PUMP_MARK)
    return pump_s if pump_s is not None and math.isfinite(pump_s) else None

"""What the brewer is told while it runs: grams to go, one word, the clock, too fast or too slow.

A pure function of the live analysis and the target, so that every screen says the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from logger.curve import LiveAnalysis
    from logger.target import Stage, Target

Word = Literal["ready", "pour", "wait", "stop", "done"]
Pace = Literal["", "slower", "good", "faster"]

STOP_WITHIN_S = 0.7
"""So much before the weight is reached the word changes: hand and scale need about that long."""


@dataclass(frozen=True, slots=True)
class Guide:
    """One moment of a brew.

    :param word: what to do
    :param clock_s: since the first water; 0 before
    :param poured_g: water so far
    :param stage: the stage at hand or coming next, or None
    :param to_go_g: grams until its weight is reached, or None
    :param in_s: seconds until it starts (negative: it is late), while waiting
    :param flow_g_s: flow now
    :param pace: pour slower or faster, where the target says a flow
    """

    word: Word
    clock_s: float
    poured_g: float
    stage: Stage | None = None
    to_go_g: float | None = None
    in_s: float | None = None
    flow_g_s: float = 0.0
    pace: Pace = ""


def guide(live: LiveAnalysis, target: Target | None, time_s: float) -> Guide:
    """Say what to do now.

    :param time_s: on the axis of the readings
    """
    start_s = live.start_s
    if start_s is None:
        first = target.stages[0] if target and target.stages else None
        return Guide("ready", 0.0, 0.0, first, target.total_g if target and target.shot else _weight(first))
    clock_s, poured_g = max(time_s - start_s, 0.0), live.poured_g
    if target is None:
        return Guide("pour" if live.pouring else "wait", clock_s, poured_g, flow_g_s=live.flow_g_s)
    if target.shot:
        return _shot(live, target.total_g, clock_s)
    stage = _stage(target, poured_g, pouring=live.pouring)
    if stage is None:
        return Guide("stop" if live.pouring else "done", clock_s, poured_g, flow_g_s=live.flow_g_s)
    return _within(live, stage, clock_s)


def _within(live: LiveAnalysis, stage: Stage, clock_s: float) -> Guide:
    poured_g, flow_g_s = live.poured_g, live.flow_g_s
    to_go_g = stage.to_g - poured_g
    if live.pouring:
        word: Word = "stop" if to_go_g <= flow_g_s * STOP_WITHIN_S else "pour"
        return Guide(word, clock_s, poured_g, stage, to_go_g, None, flow_g_s, _pace(stage, flow_g_s))
    in_s = stage.start_s - clock_s
    return Guide("pour" if in_s <= 0 else "wait", clock_s, poured_g, stage, to_go_g, in_s)


def _shot(live: LiveAnalysis, yield_g: float, clock_s: float) -> Guide:
    to_go_g = yield_g - live.poured_g
    near = to_go_g <= live.flow_g_s * STOP_WITHIN_S
    word: Word = ("stop" if near else "wait") if live.pouring else ("done" if near else "wait")
    return Guide(word, clock_s, live.poured_g, None, to_go_g, None, live.flow_g_s)


def _stage(target: Target, poured_g: float, *, pouring: bool) -> Stage | None:
    """The stage that the water so far leaves to be done; while pouring, the one being poured."""
    for stage in target.stages:
        nearly = min(stage.tolerance.weight_g, 0.2 * stage.poured_g)
        if poured_g < stage.to_g - (0.0 if pouring else nearly):
            return stage
    return None


def _pace(stage: Stage, flow_g_s: float) -> Pace:
    planned = stage.planned_flow_g_s
    if planned is None or flow_g_s <= 0.0:
        return ""
    if abs(flow_g_s - planned) <= stage.tolerance.flow_g_s:
        return "good"
    return "slower" if flow_g_s > planned else "faster"


def _weight(stage: Stage | None) -> float | None:
    return stage.to_g if stage else None

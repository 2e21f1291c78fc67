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
    :param to_go_g: grams until its weight is reached (negative: too much), or None
    :param in_s: seconds until it starts (negative: it is late), or without a stage until the brew's end
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
    return _pouring(live, target, clock_s) if live.pouring else _between(live, target, clock_s)


def _pouring(live: LiveAnalysis, target: Target, clock_s: float) -> Guide:
    """Water runs: how much of its stage is to go, or to stop."""
    poured_g, flow_g_s = live.poured_g, live.flow_g_s
    stage = _stage_being_poured(live, target, clock_s)
    if stage is None:
        return Guide("stop", clock_s, poured_g, to_go_g=target.total_g - poured_g, flow_g_s=flow_g_s)
    to_go_g = stage.to_g - poured_g
    word: Word = "stop" if to_go_g <= flow_g_s * STOP_WITHIN_S else "pour"
    return Guide(word, clock_s, poured_g, stage, to_go_g, None, flow_g_s, _pace(stage, flow_g_s))


def _between(live: LiveAnalysis, target: Target, clock_s: float) -> Guide:
    """No water runs: when to pour next, or when the brew is over."""
    stage = _next_stage(target, live.poured_g)
    if stage is None:
        in_s = target.end_s - clock_s if target.end_s is not None else 0.0
        return Guide("wait" if in_s > 0 else "done", clock_s, live.poured_g, in_s=in_s if in_s > 0 else None)
    in_s = stage.start_s - clock_s
    word: Word = "pour" if in_s <= 0 else "wait"
    return Guide(word, clock_s, live.poured_g, stage, stage.to_g - live.poured_g, in_s)


def _shot(live: LiveAnalysis, yield_g: float, clock_s: float) -> Guide:
    to_go_g = yield_g - live.poured_g
    near = to_go_g <= live.flow_g_s * STOP_WITHIN_S
    word: Word = ("stop" if near else "wait") if live.pouring else ("done" if near else "wait")
    return Guide(word, clock_s, live.poured_g, None, to_go_g, None, live.flow_g_s)


def _stage_being_poured(live: LiveAnalysis, target: Target, clock_s: float) -> Stage | None:
    """The stage that this pour began with, until the next one is due: water too much is not the next pour."""
    before_g = live.pours[-1].to_g if live.pours else 0.0
    begun = _next_stage(target, before_g)
    if begun is None:
        return None
    for stage in target.stages[target.stages.index(begun) + 1 :]:
        if live.poured_g < begun.to_g or clock_s < stage.start_s - stage.tolerance.start_s:
            break
        begun = stage
    return begun


def _next_stage(target: Target, poured_g: float) -> Stage | None:
    """The stage that the water so far leaves to be done; what is nearly in counts as done."""
    for stage in target.stages:
        if poured_g < stage.to_g - min(stage.tolerance.weight_g, 0.2 * stage.poured_g):
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

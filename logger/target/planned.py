"""The planned weight at any time, and the corridor that a brew inside its tolerances stays in.

Times are the target's own: from the first water of the brew. For espresso they count from the pump's start
where the target has a first drip window, and from the first drip where it has none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from logger.target.checking import MAX_FLOW_G_S, MIN_FLOW_G_S
from logger.target.target import Shot, Stage, Target

Floats = NDArray[np.float64]

DEFAULT_FLOW_G_S = 6.0
"""What a stage without flow and duration is drawn with (common practice)."""


@dataclass(frozen=True, slots=True)
class Span:
    """One stage as drawn.

    :param assumed: the target names neither flow nor duration: the end is drawn, not planned
    """

    name: str
    start_s: float
    end_s: float
    from_g: float
    to_g: float
    flow_g_s: float
    assumed: bool = False


class _Ramp(NamedTuple):
    """A straight line from one weight and time up to another."""

    start_s: float
    from_g: float
    end_s: float
    to_g: float

    @property
    def flow_g_s(self) -> float:
        return (self.to_g - self.from_g) / (self.end_s - self.start_s) if self.end_s > self.start_s else 0.0

    def weight_g(self, time_s: float) -> float:
        """The weight at one time, from the start on."""
        return float(self.at(np.array([time_s]))[0])

    def at(self, time_s: Floats) -> Floats:
        """The weight; ``-inf`` before the start, so that ramps combine by their maximum."""
        if self.end_s <= self.start_s:
            weight_g = np.full(time_s.shape, self.to_g)
        else:
            share = np.clip((time_s - self.start_s) / (self.end_s - self.start_s), 0.0, 1.0)
            weight_g = self.from_g + share * (self.to_g - self.from_g)
        return np.where(time_s >= self.start_s, weight_g, -np.inf)


def stage_spans(target: Target) -> tuple[Span, ...]:
    """The stages with their ends; an espresso is one span, from the first drip to the end."""
    if target.shot:
        return (_shot_span(target.shot),)
    following = [stage.start_s for stage in target.stages[1:]]
    return tuple(
        _stage_span(stage, before_s)
        for stage, before_s in zip(target.stages, [*following, np.inf], strict=True)
    )


def first_weight_s(target: Target) -> float:
    """When the target expects the first weight on the scale: what a brew's own start is laid on.

    0 for a brew with water poured over it; the middle of the first drip window for espresso.
    """
    return sum(target.shot.first_drip_s) / 2 if target.shot and target.shot.first_drip_s else 0.0


def last_s(target: Target) -> float:
    """The last time that the target says anything about."""
    if target.shot:
        return target.shot.time_s[1]
    return max(stage_spans(target)[-1].end_s, target.end_s or 0.0)


def curve(target: Target, time_s: ArrayLike) -> Floats:
    """The planned weight.

    :param time_s: on the target's own axis; any shape
    :return: g, of the same shape
    """
    time = np.asarray(time_s, dtype=np.float64)
    ramps = [_Ramp(span.start_s, span.from_g, span.end_s, span.to_g) for span in stage_spans(target)]
    return _highest(ramps, time)


def corridor(target: Target, time_s: ArrayLike) -> tuple[Floats, Floats]:
    """The band that holds every brew inside the target's tolerances, each stage poured at an even flow.

    Starts, flows and weights draw it. A stage's end has a tolerance too; it is not used to narrow the band.

    :param time_s: on the target's own axis; any shape
    :return: lowest and highest weight, g, of the same shape
    """
    time = np.asarray(time_s, dtype=np.float64)
    if target.shot:
        low, high = _shot_ramps(target.shot, target.tolerance.weight_g)
        return _highest([low], time), _highest([high], time)
    spans = stage_spans(target)
    return _highest(_late_ramps(target, spans), time), _highest(_early_ramps(target, spans), time)


def _highest(ramps: list[_Ramp], time_s: Floats) -> Floats:
    weight_g = np.zeros(time_s.shape)
    for ramp in ramps:
        weight_g = np.maximum(weight_g, ramp.at(time_s))
    return weight_g


def _stage_span(stage: Stage, next_start_s: float) -> Span:
    planned = stage.planned_end_s
    end_s = stage.start_s + stage.poured_g / DEFAULT_FLOW_G_S if planned is None else planned
    end_s = min(end_s, next_start_s)
    flow_g_s = stage.poured_g / (end_s - stage.start_s)
    return Span(stage.name, stage.start_s, end_s, stage.from_g, stage.to_g, flow_g_s, planned is None)


def _shot_span(shot: Shot) -> Span:
    start_s = sum(shot.first_drip_s) / 2 if shot.first_drip_s else 0.0
    end_s = sum(shot.time_s) / 2
    return Span("extraction", start_s, end_s, 0.0, shot.yield_g, shot.yield_g / (end_s - start_s))


def _shot_ramps(shot: Shot, weight_g: float) -> tuple[_Ramp, _Ramp]:
    """The latest and the earliest shot inside both windows."""
    first_drip_s = shot.first_drip_s or (0.0, 0.0)
    low = _Ramp(first_drip_s[1], 0.0, shot.time_s[1], max(shot.yield_g - weight_g, 0.0))
    return low, _Ramp(first_drip_s[0], 0.0, shot.time_s[0], shot.yield_g + weight_g)


def _start_slack_s(stages: tuple[Stage, ...], number: int) -> float:
    """How far a start may be off; the first stage starts the clock and cannot be off at all."""
    return stages[number].tolerance.start_s if number else 0.0


def _late_ramps(target: Target, spans: tuple[Span, ...]) -> list[_Ramp]:
    """Every stage started last, poured slowest and ended lightest, yet done before the next may start."""
    ramps: list[_Ramp] = []
    base_g = 0.0
    for number, (stage, span) in enumerate(zip(target.stages, spans, strict=True)):
        allowed = stage.tolerance
        start_s = span.start_s + _start_slack_s(target.stages, number)
        top_g = max(span.to_g - allowed.weight_g, base_g)
        flow_g_s = min(span.flow_g_s, max(span.flow_g_s - allowed.flow_g_s, MIN_FLOW_G_S))
        end_s = start_s + (top_g - base_g) / flow_g_s
        if number + 1 < len(spans):
            end_s = min(end_s, spans[number + 1].start_s + _start_slack_s(target.stages, number + 1))
        ramps.append(_Ramp(start_s, base_g, end_s, top_g))
        base_g = top_g
    return ramps


def _early_ramps(target: Target, spans: tuple[Span, ...]) -> list[_Ramp]:
    """Every stage started first, poured fastest and ended heaviest, yet not before the one before is done.

    A stage may start while the heaviest stage before is still being poured, since a lighter one is done
    sooner; that leads higher only where the flow is the greater of the two.
    """
    ramps: list[_Ramp] = []
    before = _Ramp(0.0, 0.0, 0.0, 0.0)
    for number, (stage, span) in enumerate(zip(target.stages, spans, strict=True)):
        allowed = stage.tolerance
        flow_g_s = max(span.flow_g_s, min(span.flow_g_s + allowed.flow_g_s, MAX_FLOW_G_S))
        start_s = max(span.start_s - _start_slack_s(target.stages, number), before.start_s)
        if flow_g_s < before.flow_g_s:
            start_s = max(start_s, before.end_s)
        base_g = before.weight_g(start_s)
        top_g = max(span.to_g + allowed.weight_g, base_g)
        before = _Ramp(start_s, base_g, start_s + (top_g - base_g) / flow_g_s, top_g)
        ramps.append(before)
    return ramps

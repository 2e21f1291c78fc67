"""Figures of a brew held against its target: what is inside, what is outside, and what cannot be told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from drivers.clock import clock_text
from logger.compare.comparison import Deviation, Quantity
from logger.curve import Analysis, Pour
from logger.curve.temperature.thermometer import NEAR_S, TemperatureAt, Thermometer
from logger.target import Shot, Stage, Target, served_s

ENDS_EARLY = "the readings end early"
SURELY_S, CUT_OFF_S = 2.0, 0.5

SHOT_END_S = 0.5
"""So well the end of an espresso can be read where the curve does not say: its last drops fade."""

NOT_SERVED = "nothing was lifted off after the last pour"
"""Why an end cannot be told, as ``Deviation.why`` has it."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A brew with what is needed to judge its figures.

    :param water: the thermometer in the water as it is poured, or None
    """

    analysis: Analysis
    start_s: float
    water: Thermometer | None

    @property
    def seen_until_s(self) -> float:
        """The last reading, from the brew's start."""
        grid = self.analysis.time_s
        return float(grid[-1]) - self.start_s if grid.size else 0.0

    def ends_before(self, stage: Stage) -> bool:
        """Whether the readings end before a stage could have begun, late as it may."""
        return self.seen_until_s < stage.start_s + stage.tolerance.start_s + SURELY_S

    @property
    def ends_pouring(self) -> bool:
        """Whether the readings end in a pour, or so soon after that more may have come."""
        pours = self.analysis.pours
        return bool(pours) and self.seen_until_s < pours[-1].end_s - self.start_s + CUT_OFF_S

    def gap_s(self, time_s: float) -> float:
        """How long the readings were missing at a moment; 0 where they were not."""
        return sum(until - since for since, until in self._gaps_at(time_s))

    def gap_at(self, time_s: float, tolerance_s: float) -> str:
        """Why a moment cannot be told: readings were missing for longer than it may be off; else empty."""
        for since_s, until_s in self._gaps_at(time_s):
            if until_s - since_s > tolerance_s:
                since, until = clock_text(since_s - self.start_s), clock_text(until_s - self.start_s)
                return f"there are no readings from {since} to {until}"
        return ""

    def _gaps_at(self, time_s: float) -> list[tuple[float, float]]:
        gaps = [(event.start_s, event.end_s) for event in self.analysis.events if event.kind == "gap"]
        return [(since_s, until_s) for since_s, until_s in gaps if since_s <= time_s <= until_s]


def known_to(between: tuple[float, float] | None, value: float) -> float | None:
    """How far a figure may be off, the farther of both ways; None where nothing was said of it."""
    return None if between is None else max(between[1] - value, value - between[0])


def known_toward(between: tuple[float, float] | None, value: float, *, later: bool) -> float | None:
    """How far a figure may be off to one side; None where nothing was said of it."""
    if between is None:
        return None
    return between[1] - value if later else value - between[0]


def held_against(
    quantity: Quantity, wanted: float, actual: float, tolerance: float, *, step: float = 0.0, why: str = ""
) -> Deviation:
    """Judge one figure.

    :param step: the finest difference that the instrument shows in this figure
    :param why: a reason found before that it cannot be told; empty where there is none
    """
    if why or math.isnan(actual):
        return Deviation(quantity, wanted, actual, tolerance, None, why or "it was not measured", step=step)
    if step > tolerance:
        unit = _unit(quantity)
        why = f"the readings resolve {step:.2g} {unit}, the tolerance is {tolerance:.2g} {unit}"
        return Deviation(quantity, wanted, actual, tolerance, None, why, step=step)
    # What differs by less than a millionth differs by arithmetic, not by pouring.
    inside = bool(abs(actual - wanted) <= tolerance + 1e-6)
    return Deviation(quantity, wanted, actual, tolerance, inside, step=step)


def in_window(
    quantity: Quantity, window: tuple[float, float], actual: float, why: str = "", read_to: float = 0.0
) -> Deviation:
    """Judge one figure against an earliest and a latest.

    :param read_to: how well the figure can be read: nearer than that to an edge, outside, it cannot be told
    """
    off = max(window[0] - actual, actual - window[1])
    if not why and 0.0 < off <= read_to:
        why = f"it can be read to about {read_to:.2g} s, and is {off:.1f} s outside"
    if why or math.isnan(actual):
        middle = sum(window) / 2
        half = (window[1] - window[0]) / 2
        return Deviation(quantity, middle, actual, half, None, why or "not measured", window, read_to)
    wanted = min(max(actual, window[0]), window[1])
    return Deviation(quantity, wanted, actual, 0.0, bool(abs(actual - wanted) <= 1e-6), "", window, read_to)


def shot_window_s(shot: Shot, pump_known: bool) -> tuple[float, float]:
    """When a shot should end: from the pump's start where that is known, else from the first drip.

    A shot that is right from the pump's start may have dripped first at either end of that window, so the
    window from the first drip is the wider one that any right shot falls in.
    """
    earliest_s, latest_s = shot.time_s
    if pump_known or shot.first_drip_s is None:
        return earliest_s, latest_s
    first_s, last_s = shot.first_drip_s
    return earliest_s - last_s, latest_s - first_s


def stage_deviations(brew: Measured, stage: Stage, pours: Sequence[Pour], target: Target) -> list[Deviation]:
    """All figures of one stage whose pours are known."""
    allowed = stage.tolerance
    figures = [start_deviation(brew, stage, pours), weight_deviation(brew, stage, pours)]
    planned_g_s, planned_end_s = stage.planned_flow_g_s, stage.planned_end_s
    if planned_g_s is not None:
        figures.append(_flow_deviation(brew, stage, pours, planned_g_s))
    if planned_end_s is not None:
        end_s = pours[-1].end_s
        step_s = _edge_s(brew, pours[-1], pours[-1].end_between_s, end_s)
        actual_s = end_s - brew.start_s
        why = brew.gap_at(end_s, allowed.end_s)
        if brew.ends_pouring and pours[-1] is brew.analysis.pours[-1]:
            why = why or ENDS_EARLY
        figures.append(held_against("end_s", planned_end_s, actual_s, allowed.end_s, step=step_s, why=why))
    wanted_c = target.water_c if stage.water_c is None else stage.water_c
    if wanted_c is not None and brew.water is not None:
        figures.append(water_deviation(brew, wanted_c, pours[0].start_s, allowed.water_c))
    return figures


def start_deviation(brew: Measured, stage: Stage, pours: Sequence[Pour]) -> Deviation:
    """When a stage started."""
    first = pours[0]
    actual_s = first.start_s - brew.start_s
    step_s = _edge_s(brew, first, first.start_between_s, first.start_s)
    why = brew.gap_at(first.start_s, stage.tolerance.start_s)
    # The first pour starts the clock: nothing to resolve.
    step_s = 0.0 if actual_s == 0 else step_s
    return held_against("start_s", stage.start_s, actual_s, stage.tolerance.start_s, step=step_s, why=why)


def weight_deviation(brew: Measured, stage: Stage, pours: Sequence[Pour]) -> Deviation:
    """What the scale showed when a stage was done."""
    step_g = resolved_g(brew.analysis, pours[-1].end_s)
    cut_off = brew.ends_pouring and pours[-1] is brew.analysis.pours[-1]
    why = ENDS_EARLY if cut_off and pours[-1].to_g < stage.to_g else ""
    return held_against("to_g", stage.to_g, pours[-1].to_g, stage.tolerance.weight_g, step=step_g, why=why)


def water_deviation(brew: Measured, wanted_c: float, time_s: float, tolerance_c: float) -> Deviation:
    """How warm the water was at one time."""
    if brew.water is None:
        return held_against("water_c", wanted_c, math.nan, tolerance_c, why="there is no thermometer")
    found = brew.water.at(time_s)
    if found.value_c is None or found.uncertainty_c is None:
        why = _why_no_water(brew, found)
        return held_against("water_c", wanted_c, math.nan, tolerance_c, why=why)
    # Twice the standard uncertainty: what is less sure than the tolerance cannot be told.
    step_c = max(brew.water.readings.step_c, 2.0 * found.uncertainty_c)
    return held_against("water_c", wanted_c, found.value_c, tolerance_c, step=step_c)


def _why_no_water(brew: Measured, found: TemperatureAt) -> str:
    if found.lack == "never-in-water":
        return "the probe was never in the water"
    if found.lack == "probe-out" and found.out is not None:
        since, until = (clock_text(at_s - brew.start_s) for at_s in (found.out.start_s, found.out.end_s))
        to = "to the end" if found.out.kind == "left" else f"to {until}"
        return f"the probe was out of the water from {since} {to}"
    return f"no temperature within {NEAR_S:g} s of this pour"


def end_deviation(brew: Measured, wanted_s: float, tolerance_s: float) -> Deviation:
    """When the bed had run dry or the cup was served, as far as the scale can see it."""
    end_s = served_s(brew.analysis)
    if end_s is None:
        return held_against("end_s", wanted_s, math.nan, tolerance_s, why=NOT_SERVED)
    return held_against(
        "end_s", wanted_s, end_s - brew.start_s, tolerance_s, why=brew.gap_at(end_s, tolerance_s)
    )


def _flow_deviation(brew: Measured, stage: Stage, pours: Sequence[Pour], wanted_g_s: float) -> Deviation:
    """The mean flow while water ran; pauses of a split stage do not count."""
    running_s = sum(pour.end_s - pour.start_s for pour in pours)
    tolerance_g_s = stage.tolerance.flow_g_s
    if running_s <= 0:
        return held_against("flow_g_s", wanted_g_s, math.nan, tolerance_g_s)
    actual_g_s = sum(pour.poured_g for pour in pours) / running_s
    # What is not known of the time is not known of the flow, in proportion.
    unseen_s = brew.gap_s(pours[0].start_s) + brew.gap_s(pours[-1].end_s)
    step_g_s = max(brew.analysis.step_g, unseen_s * actual_g_s) / running_s
    # A flow is grams by time: what either is unsure of, it is unsure of (JCGM 100:2008, 5.1.6).
    unsure_s = [_unsure(pour.start_between_s, pour.start_s) for pour in pours]
    unsure_s += [_unsure(pour.end_between_s, pour.end_s) for pour in pours]
    unsure_g = [_unsure(pour.poured_between_g, pour.poured_g) for pour in pours]
    step_g_s = max(step_g_s, math.hypot(*unsure_g, *(actual_g_s * one for one in unsure_s)) / running_s)
    return held_against("flow_g_s", wanted_g_s, actual_g_s, tolerance_g_s, step=step_g_s)


def resolved_g(analysis: Analysis, until_s: float) -> float:
    """How finely the water that was on the scale at a time is known.

    The scale's step, or where that is more, what the pours until then are unsure of together.
    """
    pours = [pour for pour in analysis.pours if pour.end_s <= until_s]
    return max(
        analysis.step_g, math.hypot(*(_unsure(pour.poured_between_g, pour.poured_g) for pour in pours))
    )


def _edge_s(brew: Measured, pour: Pour, between_s: tuple[float, float] | None, time_s: float) -> float:
    """How finely a start or an end is known: as the curve says, else the time that one step takes to fill."""
    known_s = known_to(between_s, time_s)
    if known_s is None:
        return brew.analysis.step_g / pour.mean_flow_g_s if pour.mean_flow_g_s > 0 else 0.0
    # It counts from the first water, which is no better known.
    first = brew.analysis.pours[0]
    return math.hypot(known_s, _unsure(first.start_between_s, first.start_s))


def _unsure(between: tuple[float, float] | None, value: float) -> float:
    return known_to(between, value) or 0.0


def _unit(quantity: Quantity) -> str:
    if quantity.endswith("_g_s"):
        return "g/s"
    return {"s": "s", "g": "g", "c": "°C"}[quantity.rsplit("_", 1)[1]]

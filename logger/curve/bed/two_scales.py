"""Two scales on one clock: what each weighs, cleaned of all that is no water, and on one grid.

Tares, vessels, knocks and stirring are taken out of both curves by the same code that reads pours. Drips are
slow (0.2 to 6 g/s), so nothing that arrives in a server has to look like a pour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from logger.curve.analysis import analyse, holds_enough
from logger.curve.brew import Event, Floats, Pour
from logger.curve.edges.shapes import Response
from logger.curve.pours.flow import slope_g_s
from logger.curve.readings.runs import Flags, runs_of
from logger.curve.readings.timebase import samples_from
from logger.curve.water import read_samples

Arrangement = Literal["everything-server", "dripper-server", "everything-dripper"]
"""What the first scale carries, and what the second."""

ARRANGEMENTS: tuple[Arrangement, ...] = get_args(Arrangement)

LEAST_DRIPPED_G = 3.0
"""Less than that below the bed is no percolation to speak of."""

FASTEST_DRIP_G_S = 8.0
MOST_BEHIND_S = 1.5
"""A scale that lags behind another one by more is no lag."""

LEVEL_G_S = 0.8
"""Where two scales' sum changes by more, water arrives."""

_BESIDE_S = 1.5
_LEVEL_POINTS = 10
_SHORTEST_S = 5.0


@dataclass(frozen=True, slots=True)
class Weighed:
    """What one scale weighed, cleaned; its lag is taken out by reading it as much later.

    :param time_s: even grid; shape (n,)
    :param weight_g: shape (n,)
    :param measured: False where it was drawn, not measured; shape (n,)
    :param lighter_g: by how much vessels had become lighter when they were back, cumulative; shape (n,)
    :param lifts_s: when a vessel came off, and when it, or another one, was back: infinity for never
    :param noise_g: of one value of the grid
    :param step_g: of the display
    """

    time_s: Floats
    weight_g: Floats
    measured: Flags
    lighter_g: Floats
    pours: tuple[Pour, ...]
    lifts_s: tuple[tuple[float, float], ...]
    noise_g: float
    step_g: float

    def at(self, time_s: Floats, *, bears_dripper: bool = False) -> Floats:
        """The weight at given times; a dripper that comes back lighter has dripped meanwhile."""
        weight_g = self.weight_g - self.lighter_g if bears_dripper else self.weight_g
        return np.interp(time_s, self.time_s, weight_g)


@dataclass(frozen=True, slots=True)
class Streams:
    """Water in and beverage out on one even grid, in g from the first water on; shapes (n,).

    :param measured: False where either scale's vessel was off, or nothing was heard
    :param pours: of the water
    :param ends_s: when dripper or server were taken away for good, infinity where they were not
    :param noise_g: of one value of the beverage
    :param step_g: the coarser of the two displays' steps
    :param lifts_s: when something was lifted meanwhile, and until when
    """

    arrangement: Arrangement
    time_s: Floats
    water_g: Floats
    beverage_g: Floats
    measured: Flags
    pours: tuple[Pour, ...]
    ends_s: float
    noise_g: float
    step_g: float
    lifts_s: tuple[tuple[float, float], ...]


def weighed(
    time_s: object, weight_g: object, response_s: float | None = None, *, takes_solids: bool = False
) -> Weighed | None:
    """Read one scale.

    :param time_s: arrival times, seconds, not falling, shape (n,)
    :param weight_g: weights in g, shape (n,); readings that are not finite are left out
    :param response_s: the scale's own response time, where known
    :param takes_solids: whether what comes at once is a lid or a spoon, not drips
    :returns: None where there are too few readings
    :raises ValueError: when the arrays do not match, or time runs backwards
    """
    samples = samples_from(time_s, weight_g)
    if not holds_enough(samples):
        return None
    read = read_samples(samples, None if response_s is None else Response(response_s))
    curve = read.curve
    lifts_s = _lifts(read.events)
    grid_s = curve.grid_s - curve.response.delay_s
    measured = np.interp(curve.grid_s, curve.time_s, curve.replaced.astype(np.float64)) < 0.3
    for since_s, until_s in (*lifts_s, *_gaps(read.events)):
        measured &= (curve.grid_s < since_s) | (curve.grid_s > until_s)
    solids_g = _arrived_g(curve.grid_s, read.solids) if takes_solids else 0.0
    heavier_g, lighter_g = _changed_while_lifted(curve.grid_s, read.events)
    return Weighed(
        grid_s,
        curve.grid_g - solids_g + heavier_g,
        measured,
        lighter_g,
        read.pours,
        lifts_s,
        curve.grid_noise_g,
        read.step_g,
    )


def together(first: Weighed, second: Weighed, arrangement: Arrangement | None = None) -> Streams | str:
    """Make water and beverage of what two scales weighed.

    :param arrangement: what they carry; None to tell it from the curves
    :returns: or, in words, why they tell nothing
    """
    step_s = max(_step_s(first), _step_s(second))
    since_s = max(first.time_s[0], second.time_s[0])
    until_s = min(first.time_s[-1], second.time_s[-1])
    if until_s - since_s < _SHORTEST_S:
        return "the two scales were not read at the same time"
    time_s = np.arange(since_s, until_s + 0.5 * step_s, step_s)
    if arrangement is None:
        arrangement = _arrangement(time_s, first.at(time_s), second.at(time_s), first.pours)
    one = first.at(time_s, bears_dripper=arrangement == "dripper-server")
    other = second.at(time_s, bears_dripper=arrangement == "everything-dripper")
    if arrangement == "dripper-server":
        later_s = _lags_behind_s(time_s, one, other)
        other = second.at(time_s + later_s)
    water = one + other if arrangement == "dripper-server" else one
    pours = _pours(time_s, water) if arrangement == "dripper-server" else first.pours
    pours = tuple(pour for pour in pours if since_s - _BESIDE_S <= pour.start_s < until_s)
    if not pours:
        return "no water was poured while both scales were read"
    beverage = water - other if arrangement == "everything-dripper" else other
    start_s = pours[0].start_s
    return Streams(
        arrangement,
        time_s,
        _from_level(time_s, water, start_s),
        _from_level(time_s, beverage, start_s),
        _both_measured(time_s, first, second),
        pours,
        _ends_s(first, second, pours[-1].start_s),
        _noise_g(first, second, arrangement),
        max(first.step_g, second.step_g),
        tuple(
            sorted(lift for each in (first, second) for lift in each.lifts_s if start_s < lift[0] < until_s)
        ),
    )


def _lifts(events: tuple[Event, ...]) -> tuple[tuple[float, float], ...]:
    """From each vessel's lift to the next vessel that is put on."""
    vessels = [event for event in events if event.kind in ("vessel-on", "vessel-off")]
    lifts = []
    for number, event in enumerate(vessels):
        if event.kind == "vessel-off":
            back = next((one.end_s for one in vessels[number + 1 :] if one.kind == "vessel-on"), np.inf)
            lifts.append((event.start_s, float(back)))
    return tuple(lifts)


def _gaps(events: tuple[Event, ...]) -> list[tuple[float, float]]:
    return [(event.start_s, event.end_s) for event in events if event.kind == "gap"]


def _changed_while_lifted(time_s: Floats, events: tuple[Event, ...]) -> tuple[Floats, Floats]:
    """By how much vessels had become heavier, and lighter, when they were back; cumulative, shapes (n,).

    A server that is lifted to swirl it is held under the dripper, or drips fall on the pan: both are weighed
    when it is back. What is back and not about as heavy is another vessel, and says nothing.
    """
    heavier_g, lighter_g = np.zeros_like(time_s), np.zeros_like(time_s)
    off: Event | None = None
    for event in events:
        if event.kind == "vessel-off":
            off = event
        elif event.kind == "vessel-on" and off is not None:
            more_g, lasts_s = off.change_g + event.change_g, event.end_s - off.start_s
            if abs(more_g) < FASTEST_DRIP_G_S * lasts_s:
                changed = abs(more_g) * np.clip((time_s - off.start_s) / lasts_s, 0.0, 1.0)
                heavier_g, lighter_g = (
                    (heavier_g + changed, lighter_g) if more_g > 0 else (heavier_g, lighter_g + changed)
                )
            off = None
    return heavier_g, lighter_g


def _arrived_g(time_s: Floats, solids: tuple[Event, ...]) -> Floats:
    """How much of the solids had arrived, shape (n,)."""
    arrived_g = np.zeros_like(time_s)
    for solid in solids:
        arrived_g += solid.change_g * np.clip(
            (time_s - solid.start_s) / (solid.end_s - solid.start_s), 0.0, 1.0
        )
    return arrived_g


def _arrangement(time_s: Floats, one: Floats, other: Floats, pours: tuple[Pour, ...]) -> Arrangement:
    """Tell what the scales carry, from what happens while nothing is poured.

    What leaves the bed leaves a scale that carries the dripper alone, and stays on one that carries all.
    """
    quiet = np.ones(time_s.size, dtype=np.bool_)
    for pour in pours:
        quiet &= (time_s < pour.start_s - _BESIDE_S) | (time_s > pour.end_s + _BESIDE_S)
    if pours:
        quiet &= time_s > pours[0].start_s
    both = quiet[1:] & quiet[:-1]
    one_g, other_g = np.diff(one)[both], np.diff(other)[both]
    if other_g.sum() < -LEAST_DRIPPED_G:
        return "everything-dripper"
    return (
        "dripper-server" if one_g.sum() < -0.5 * max(other_g.sum(), LEAST_DRIPPED_G) else "everything-server"
    )


def _lags_behind_s(time_s: Floats, dripper_g: Floats, server_g: Floats) -> float:
    """By how much more than is known the server's scale lags behind the dripper's.

    While nothing is poured, what leaves one scale arrives on the other, and their sum must stay. By least
    squares: the delay that makes ``dripper(t) + server(t + delay)`` most level, stretch by stretch.
    """
    step_s = float(time_s[1] - time_s[0])
    half, beside = max(round(0.5 / step_s), 2), round(2.0 * _BESIDE_S / step_s)
    flow = slope_g_s(server_g, half, step_s)
    level = np.abs(slope_g_s(dripper_g + server_g, half, step_s)) < LEVEL_G_S
    shared = power = 0.0
    for first, last in runs_of(level):
        if last - first < 3 * beside:
            continue
        within = slice(first + beside, last + 1 - beside)
        sum_g, flow_g_s = dripper_g[within] + server_g[within], flow[within] - flow[within].mean()
        shared, power = shared - float(flow_g_s @ sum_g), power + float(flow_g_s @ flow_g_s)
    return float(np.clip(shared / power, -MOST_BEHIND_S, MOST_BEHIND_S)) if power > 1e-6 else 0.0


def _pours(time_s: Floats, water_g: Floats) -> tuple[Pour, ...]:
    """Pours of water that two scales weighed between them; their lag is out of it already."""
    return analyse(time_s, water_g, response_s=0.0).pours


def _from_level(time_s: Floats, weight_g: Floats, start_s: float) -> Floats:
    """Count from just before the first water, and nothing before it."""
    before = weight_g[time_s < start_s - 0.2][-_LEVEL_POINTS:]
    level_g = float(np.median(before)) if before.size else float(weight_g[0])
    return np.where(time_s < start_s - 0.2, 0.0, weight_g - level_g)


def _both_measured(time_s: Floats, first: Weighed, second: Weighed) -> Flags:
    measured = np.ones(time_s.size, dtype=np.bool_)
    for each in (first, second):
        measured &= np.interp(time_s, each.time_s, each.measured.astype(np.float64)) > 0.99
    return measured


def _ends_s(first: Weighed, second: Weighed, last_pour_s: float) -> float:
    """When the first of the vessels was taken away after the last pour had begun, and did not come back."""
    gone = [since for each in (first, second) for since, until in each.lifts_s if np.isinf(until)]
    return min((since for since in gone if since > last_pour_s), default=np.inf)


def _noise_g(first: Weighed, second: Weighed, arrangement: Arrangement) -> float:
    if arrangement == "everything-dripper":
        return float(np.hypot(first.noise_g, second.noise_g))
    return second.noise_g


def _step_s(one: Weighed) -> float:
    return float(one.time_s[1] - one.time_s[0]) if one.time_s.size > 1 else 0.1

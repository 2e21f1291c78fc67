"""One pour whose flow falls, or two pours that nearly touch?

Around a dip the flow is modelled as three levels, one after the other: before, between, after, each change a
short ramp, all of it seen through the scale's lag. For given times of the two changes the three flows follow
by least squares, so the flow in between is measured, even where the scale's lag has filled the dip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.edge import thinned
from logger.curve.edges.shapes import Response, pressed, shown_square
from logger.curve.pours.flow import slope_g_s

DIP_SHARE = 0.33
"""A flow that falls below this share of what it is on both sides has stopped in between."""

_STEP_S = 0.15
_RAMP, _PAUSES = 3, np.array([4, 6, 8, 11, 14, 18, 23, 28])
"""How long each change of the flow takes, and what may lie between two of them, in steps."""
_FALLS = np.arange(-16, 7)
"""When the first change may begin, from where the flow is lowest on; in steps."""
_FALLEN = np.arange(_FALLS.size)[:, None]
_RISEN = _FALLEN + _PAUSES + _RAMP
"""When the flow falls, and when it has risen again, for every pair that is tried, in steps; shape (f, 1) and
(f, p)."""
_TRIED = np.arange(int(_RISEN.max()) + _RAMP + 1)
_LASTS = 2.0
"""So many delays after a pause what a display shows of it has passed its lowest."""
_HALF_WINDOW_S = 3.5
_MOST_SAMPLES = 90
_HIDDEN_S, _BESIDE_S = 1.0, 1.5
_FEWEST = 9


@dataclass(frozen=True, slots=True)
class Dip:
    """The flow before, in between and after, and when it changed.

    :param between_sd_g_s: standard deviation of the flow in between
    :param evidence: by how much the squared misfit, in units of the noise's variance, grows when the flow is
        held to change only once
    """

    falls_s: float
    rises_s: float
    before_g_s: float
    between_g_s: float
    after_g_s: float
    between_sd_g_s: float
    evidence: float

    @property
    def share(self) -> float:
        """The flow in between as a share of the smaller of its neighbours."""
        return self.between_g_s / max(min(self.before_g_s, self.after_g_s), 1e-9)

    @property
    def stopped_s(self) -> float:
        """For how long the flow beside it would have to stop for so much water to be missing."""
        return (1.0 - max(self.share, 0.0)) * (self.rises_s - self.falls_s)

    @property
    def is_pause(self) -> bool:
        """Whether the flow stopped: well below both sides, and no accident of the noise."""
        least = min(self.before_g_s, self.after_g_s)
        return (
            self.evidence > 16.0
            and self.share < DIP_SHARE
            and self.between_g_s + self.between_sd_g_s < 0.55 * least
        )


@dataclass(frozen=True, slots=True)
class _Window:
    """The samples around a dip.

    :param seen_s: when they were measured, shape (m,)
    :param time_s: neighbours taken together, shape (n,), with their weights
    :param noise_g: standard deviation of one of those
    :param begins_s: the first time at which the flow may fall
    """

    seen_s: Floats
    time_s: Floats
    weight_g: Floats
    noise_g: float
    begins_s: float


def measure_dips(
    time_s: Floats,
    weight_g: Floats,
    lowest_s: Sequence[float],
    reach_s: tuple[float, float],
    response: Response,
    noise_g: float,
) -> list[Dip | None]:
    """Measure the dips nearest to some times.

    :param time_s: measured samples only, shape (n,)
    :param lowest_s: where the smoothed flow is lowest
    :param reach_s: how far the stretch of flow reaches on both sides
    :param noise_g: standard deviation of one sample
    :returns: None where there are too few samples to tell
    """
    dips: list[Dip | None] = [None] * len(lowest_s)
    windows = [_window(time_s, weight_g, each_s, reach_s, response, noise_g) for each_s in lowest_s]
    seen = [(place, window) for place, window in enumerate(windows) if window.seen_s.size >= _FEWEST]
    measured = _measured([window for _, window in seen], response) if seen else []
    for (place, _), dip in zip(seen, measured, strict=True):
        dips[place] = dip
    return dips


@lru_cache(maxsize=64)
def shortest_pause_falls_to(half: int, step_s: float, response: Response) -> float:
    """How low the slope of the curve falls in the shortest pause that may be found; a share of the flow.

    Through the scale's lag, and over the window that the slope is taken over, even it shows as no more than a
    lull; a flow that falls less has not stopped.

    :param half: half-width of that window, in steps
    :param step_s: of the curve
    """
    rises_at = _RAMP + int(_PAUSES[0])
    turns_s = _STEP_S * np.array([0, _RAMP, rises_at, rises_at + _RAMP])
    until = round((float(turns_s[-1]) + _LASTS * response.delay_s) / step_s) + half
    since_s = step_s * np.arange(-2 * half, until + 1) - turns_s[:, None]
    falls, fallen, rises, risen = shown_square(since_s, response)
    missing = slope_g_s((falls - fallen - rises + risen) / (_RAMP * _STEP_S), half, step_s)
    return 1.0 - (1.0 - DIP_SHARE) * float(missing[half:].max())


def _window(
    time_s: Floats,
    weight_g: Floats,
    lowest_s: float,
    reach_s: tuple[float, float],
    response: Response,
    noise_g: float,
) -> _Window:
    window_s = _seen_beside(time_s, lowest_s - _HALF_WINDOW_S - response.delay_s, lowest_s + _HALF_WINDOW_S)
    first, last = time_s.searchsorted([max(window_s[0], reach_s[0]), min(window_s[1], reach_s[1])])
    seen_s = time_s[first:last]
    time, weight = thinned(seen_s, weight_g[first:last], _MOST_SAMPLES)
    each = max(seen_s.size, 1) // max(time.size, 1)
    begins_s = lowest_s - response.delay_s + _STEP_S * float(_FALLS[0])
    return _Window(seen_s, time, weight, noise_g / float(np.sqrt(each)), begins_s)


def _seen_beside(time_s: Floats, from_s: float, to_s: float) -> tuple[float, float]:
    """Widen a window until something is seen beside what stirring or a knock hides at its ends."""
    first, last = time_s.searchsorted([from_s, to_s]).tolist()
    if 0 < first < time_s.size and time_s[first] - time_s[first - 1] > _HIDDEN_S:
        from_s = float(time_s[first - 1]) - _BESIDE_S
    if 0 < last < time_s.size and time_s[last] - time_s[last - 1] > _HIDDEN_S:
        to_s = float(time_s[last]) + _BESIDE_S
    return from_s, to_s


def _measured(windows: Sequence[_Window], response: Response) -> list[Dip | None]:
    """Take for each dip the pair of times that fits best, of those that are possible."""
    flows, misfit, spread, once = _fits(windows, response)
    # What happened in a gap nobody knows.
    seen = np.array([window.seen_s.searchsorted(window.begins_s + _STEP_S * _TRIED) for window in windows])
    possible = seen.take(_RISEN - _RAMP, axis=1) - seen[:, : _FALLS.size, None] >= 3
    # A flow that would have to be negative is no explanation.
    possible &= flows.min(axis=0) >= -0.25 * np.abs(flows).max(axis=0)
    misfit = np.where(possible, misfit, np.inf)
    best = misfit.reshape(len(windows), -1).argmin(axis=1).tolist()
    dips: list[Dip | None] = []
    for number, (window, place) in enumerate(zip(windows, best, strict=True)):
        pair = (number, *divmod(place, _PAUSES.size))
        if not possible[pair]:
            dips.append(None)
            continue
        before_g_s, between_g_s, after_g_s = flows[:, *pair].tolist()
        dips.append(
            Dip(
                window.begins_s + _STEP_S * pair[1],
                window.begins_s + _STEP_S * float(_RISEN[pair[1:]]),
                before_g_s,
                between_g_s,
                after_g_s,
                window.noise_g * float(spread[pair]),
                float(once[number, 0, 0] - misfit[pair]) / window.noise_g**2,
            )
        )
    return dips


def _fits(windows: Sequence[_Window], response: Response) -> tuple[Floats, Floats, Floats, Floats]:
    """Fit level, flow and its two changes for every pair of times, by products of columns alone.

    :returns: the three flows (3, d, f, p), squared misfit (d, f, p), the middle flow's deviation per unit of
        noise (d, f, p), and the least misfit of a flow that changes once (d, 1, 1)
    """
    root_n = np.sqrt([[window.time_s.size] for window in windows])
    products = np.array([_products(window, response) for window in windows])
    # Level and flow are part of every fit: what they explain is taken out, and two columns are left.
    root_power = np.sqrt(products[:, -2, -2, None])
    of_level, of_flow = products[:, -3] / root_n, products[:, -2] / root_power
    square = products.diagonal(axis1=1, axis2=2) - of_level**2 - of_flow**2
    wanted, left = products[:, -1] - of_flow * of_flow[:, -1:], square[:, -1, None, None]
    of_each = np.array((square + 1e-9, wanted, of_level, of_flow))
    falls, wants_fall, fall_level, fall_flow = of_each[:, :, : _FALLS.size, None]
    rises, wants_rise, rise_level, rise_flow = of_each.take(_RISEN, axis=2)
    both = products.reshape(len(windows), -1).take(_FALLEN * products.shape[1] + _RISEN, axis=1)
    both = both - fall_level * rise_level - fall_flow * rise_flow
    determinant = np.maximum(falls * rises - both**2, 1e-12)
    fall = (rises * wants_fall - both * wants_rise) / determinant
    rise = (falls * wants_rise - both * wants_fall) / determinant
    misfit = left - fall * wants_fall - rise * wants_rise
    once = left - (wants_rise**2 / rises).max(axis=(1, 2), keepdims=True)
    # The flow in between is the one before and its fall.
    root_power = root_power[:, :, None]
    per_fall, per_rise = root_power - fall_flow, -rise_flow
    before = (of_flow[:, -1:, None] - fall * fall_flow + rise * per_rise) / root_power
    of_fall = per_fall**2 * rises - 2.0 * per_fall * per_rise * both + per_rise**2 * falls
    spread = np.sqrt(1.0 + of_fall / determinant) / root_power
    return np.array((before, before + fall, before + fall + rise)), misfit, spread, once


def _products(window: _Window, response: Response) -> Floats:
    """Products of the columns, shape (t + 3, t + 3): each change of the flow by 1, the level, the flow and
    the weights, these two without what the level explains of them.
    """
    time, weight = window.time_s, window.weight_g
    begun = pressed(time - (window.begins_s + _STEP_S * _TRIED)[:, None], response)
    rows = np.empty((_TRIED.size - _RAMP + 3, time.size))
    np.subtract(begun[:-_RAMP], begun[_RAMP:], out=rows[:-3])
    rows[:-3] /= _RAMP * _STEP_S
    rows[-3], rows[-2], rows[-1] = 1.0, time - time.sum() / time.size, weight - weight.sum() / time.size
    return np.asarray(rows @ rows.T)

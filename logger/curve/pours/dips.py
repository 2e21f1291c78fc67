"""One pour whose flow falls, or two pours that nearly touch?

Around a dip the flow is modelled as three levels, one after the other: before, between, after, each change a
short ramp, all of it seen through the scale's lag. For given times of the two changes the three flows follow
by least squares, so the flow in between is measured, even where the scale's lag has filled the dip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.edge import thinned
from logger.curve.edges.shapes import Response, pressed

DIP_SHARE = 0.33
"""A flow that falls below this share of what it is on both sides has stopped in between."""

_STEP_S = 0.15
_RAMP, _PAUSES = 3, np.array([4, 6, 8, 11, 14, 18, 23, 28])
"""How long each change of the flow takes, and what may lie between two of them, in steps."""
_FALLS = np.arange(-16, 7)
"""When the first change may begin, from where the flow is lowest on; in steps."""
_FALLEN = np.repeat(np.arange(_FALLS.size), _PAUSES.size)
_RISEN = _FALLEN + np.tile(_PAUSES + _RAMP, _FALLS.size)
"""When the flow falls and has risen again, for every pair that is tried, in steps; shape (c,) each."""
_HALF_WINDOW_S = 3.5
_MOST_SAMPLES = 90
_HIDDEN_S, _BESIDE_S = 1.0, 1.5


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
    def is_pause(self) -> bool:
        """Whether the flow stopped: well below both sides, and no accident of the noise."""
        least = min(self.before_g_s, self.after_g_s)
        return (
            self.evidence > 16.0
            and self.share < DIP_SHARE
            and self.between_g_s + self.between_sd_g_s < 0.55 * least
        )


def measure_dip(
    time_s: Floats,
    weight_g: Floats,
    lowest_s: float,
    reach_s: tuple[float, float],
    response: Response,
    noise_g: float,
) -> Dip | None:
    """Measure the dip nearest to a time.

    :param time_s: measured samples only, shape (n,)
    :param lowest_s: where the smoothed flow is lowest
    :param reach_s: how far the stretch of flow reaches on both sides
    :param noise_g: standard deviation of one sample
    :returns: None where there are too few samples to tell
    """
    window_s = _seen_beside(time_s, lowest_s - _HALF_WINDOW_S - response.delay_s, lowest_s + _HALF_WINDOW_S)
    first, last = np.searchsorted(time_s, [max(window_s[0], reach_s[0]), min(window_s[1], reach_s[1])])
    seen_s = time_s[first:last]
    if seen_s.size < 9:
        return None
    time, weight = thinned(seen_s, weight_g[first:last], _MOST_SAMPLES)
    noise_g /= float(np.sqrt(seen_s.size // time.size))
    begins_s = lowest_s - response.delay_s + _STEP_S * float(_FALLS[0])
    flows, misfit, spread, once = _fits(time - time[0], weight, begins_s - time[0], response)
    # What happened in a gap nobody knows.
    falls_s, rises_s = begins_s + _STEP_S * _FALLEN, begins_s + _STEP_S * _RISEN
    seen = np.searchsorted(seen_s, rises_s - _STEP_S * _RAMP) - np.searchsorted(seen_s, falls_s)
    misfit = np.where(seen >= 3, misfit, np.inf)
    # A flow that would have to be negative is no explanation.
    misfit = np.where(flows.min(axis=0) < -0.25 * np.abs(flows).max(axis=0), np.inf, misfit)
    best = int(np.argmin(misfit))
    if not np.isfinite(misfit[best]):
        return None
    return Dip(
        float(falls_s[best]),
        float(rises_s[best]),
        float(flows[0, best]),
        float(flows[1, best]),
        float(flows[2, best]),
        float(noise_g * spread[best]),
        float((once - misfit[best]) / noise_g**2),
    )


def _seen_beside(time_s: Floats, from_s: float, to_s: float) -> tuple[float, float]:
    """Widen a window until something is seen beside what stirring or a knock hides at its ends."""
    first, last = np.searchsorted(time_s, [from_s, to_s])
    if 0 < first < time_s.size and time_s[first] - time_s[first - 1] > _HIDDEN_S:
        from_s = float(time_s[first - 1]) - _BESIDE_S
    if 0 < last < time_s.size and time_s[last] - time_s[last - 1] > _HIDDEN_S:
        to_s = float(time_s[last]) + _BESIDE_S
    return from_s, to_s


def _fits(
    time: Floats, weight: Floats, begins_s: float, response: Response
) -> tuple[Floats, Floats, Floats, float]:
    """Fit level, flow and its two changes for every pair of times, by products of columns alone.

    :param begins_s: the first time at which the flow may fall
    :returns: the three flows (3, c), squared misfit (c,), the middle flow's deviation per unit of noise (c,),
        and the least misfit of a flow that changes once
    """
    at_s = begins_s + _STEP_S * np.arange(int(_RISEN.max()) + _RAMP + 1)
    begun = pressed(time - at_s[:, None], response)
    changes = (begun[:-_RAMP] - begun[_RAMP:]) / (_RAMP * _STEP_S)
    # Level and flow are part of every fit: what they explain is taken out once, and two columns are left.
    line, rest = time - time.sum() / time.size, weight - weight.sum() / weight.size
    changes -= changes.sum(axis=1, keepdims=True) / time.size
    power = float(line @ line)
    along, flow = changes @ line / power, float(rest @ line) / power
    changes, rest = changes - along[:, None] * line, rest - flow * line
    products, wanted, left = changes @ changes.T, changes @ rest, float(rest @ rest)
    square = products.diagonal() + 1e-9
    falls, rises, both = square[_FALLEN], square[_RISEN], products[_FALLEN, _RISEN]
    wants_fall, wants_rise = wanted[_FALLEN], wanted[_RISEN]
    determinant = np.maximum(falls * rises - both**2, 1e-12)
    fall = (rises * wants_fall - both * wants_rise) / determinant
    rise = (falls * wants_rise - both * wants_fall) / determinant
    misfit = left - fall * wants_fall - rise * wants_rise
    before = flow - fall * along[_FALLEN] - rise * along[_RISEN]
    # The flow in between is the one before and its fall.
    per_fall, per_rise = 1.0 - along[_FALLEN], -along[_RISEN]
    of_fall = per_fall**2 * rises - 2.0 * per_fall * per_rise * both + per_rise**2 * falls
    spread = np.sqrt(1.0 / power + of_fall / determinant)
    flows = np.stack((before, before + fall, before + fall + rise))
    return flows, misfit, spread, left - float((wanted[_RISEN] ** 2 / rises).max())

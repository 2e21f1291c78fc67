"""One pour whose flow falls, or two pours that nearly touch?

Around a dip the flow is modelled as three levels, one after the other: before, between, after, each change a
short ramp, all of it seen through the scale's lag. For given times of the two changes the three flows follow
by least squares, so the flow in between is measured, even where the scale's lag has filled the dip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.shapes import Response, start_shape

DIP_SHARE = 0.33
"""A flow that falls below this share of what it is on both sides has stopped in between."""

_RAMP_S = 0.5
_HALF_WINDOW_S = 3.5
_PAUSES_S = np.array([0.5, 0.8, 1.2, 1.6, 2.1, 2.7, 3.4, 4.2])


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
    from_s = max(lowest_s - _HALF_WINDOW_S - response.delay_s, reach_s[0])
    to_s = min(lowest_s + _HALF_WINDOW_S, reach_s[1])
    first, last = np.searchsorted(time_s, [from_s, to_s])
    time, weight = time_s[first:last], weight_g[first:last]
    if time.size < 9:
        return None
    falls = lowest_s - response.delay_s + np.linspace(-2.4, 0.9, 23)
    falls_s, pauses_s = (grid.ravel() for grid in np.meshgrid(falls, _PAUSES_S))
    columns = _columns(time - time[0], falls_s - time[0], pauses_s, response)
    flows, misfit, spread = _least_squares(columns, weight)
    # What happened in a gap nobody knows.
    seen = np.searchsorted(time, falls_s + pauses_s) - np.searchsorted(time, falls_s)
    misfit = np.where(seen >= 3, misfit, np.inf)
    # A flow that would have to be negative is no explanation.
    misfit = np.where(flows.min(axis=1) < -0.25 * np.abs(flows).max(axis=1), np.inf, misfit)
    best = int(np.argmin(misfit))
    if not np.isfinite(misfit[best]):
        return None
    # One change only: the middle column goes with the first.
    once = np.stack([columns[..., 0], columns[..., 1] + columns[..., 2], columns[..., 3]], axis=2)
    evidence = (_least_squares(once, weight)[1].min() - misfit[best]) / noise_g**2
    return Dip(
        float(falls_s[best]),
        float(falls_s[best] + pauses_s[best]) + _RAMP_S,
        float(flows[best, 0]),
        float(flows[best, 1]),
        float(flows[best, 2]),
        float(noise_g * spread[best]),
        float(evidence),
    )


def _columns(time: Floats, falls: Floats, pauses: Floats, response: Response) -> Floats:
    """What level and the three flows each add to the display, for every pair of times; shape (c, n, 4)."""
    ramp = np.array(_RAMP_S)
    fallen = start_shape(time[None, :] - falls[:, None], ramp, response)
    risen = start_shape(time[None, :] - (falls + _RAMP_S + pauses)[:, None], ramp, response)
    steady = np.broadcast_to(time, fallen.shape)
    return np.stack([np.ones_like(fallen), steady - fallen, fallen - risen, risen], axis=2)


def _least_squares(columns: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Flows (c, k), squared misfit (c,), and the middle flow's deviation per unit of noise (c,)."""
    turned = columns.swapaxes(1, 2)
    inverse = np.linalg.inv(turned @ columns + 1e-9 * np.eye(columns.shape[2]))
    solution = (inverse @ (turned @ weight)[..., None])[..., 0]
    misfit = (((columns @ solution[..., None])[..., 0] - weight) ** 2).sum(axis=1)
    return solution[:, 1:], misfit, np.sqrt(np.abs(inverse[:, 2, 2]))

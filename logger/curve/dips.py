"""One pour whose flow falls, or two pours that nearly touch?

Around a dip the flow is modelled as three levels, one after the other: before, between, after, each change a
short ramp, all of it seen through the scale's lag. For given times of the two changes the three flows follow
by least squares, so the flow in between is measured, even where the scale's lag has filled the dip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges import Response, start_shape

_RAMP_S = 0.5
_HALF_WINDOW_S = 3.5
_PAUSES_S = np.array([0.5, 0.8, 1.2, 1.6, 2.1, 2.7, 3.4, 4.2])


@dataclass(frozen=True, slots=True)
class Dip:
    """The flow before, in between and after, and when it changed."""

    falls_s: float
    rises_s: float
    before_g_s: float
    between_g_s: float
    after_g_s: float

    @property
    def share(self) -> float:
        """The flow in between as a share of the smaller of its neighbours."""
        return self.between_g_s / max(min(self.before_g_s, self.after_g_s), 1e-9)


def measure_dip(
    time_s: Floats, weight_g: Floats, lowest_s: float, reach_s: tuple[float, float], response: Response
) -> Dip | None:
    """Measure the dip nearest to a time.

    :param time_s: measured samples only, shape (n,)
    :param lowest_s: where the smoothed flow is lowest
    :param reach_s: how far the stretch of flow reaches on both sides
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
    flows, misfit = _flows(time - time[0], weight, falls_s - time[0], pauses_s, response)
    best = int(np.argmin(misfit))
    start = float(falls_s[best])
    return Dip(start, start + float(pauses_s[best]) + _RAMP_S, *(float(flow) for flow in flows[best]))


def _flows(
    time: Floats, weight: Floats, falls: Floats, pauses: Floats, response: Response
) -> tuple[Floats, Floats]:
    """Least squares for every pair of times; shapes (c, 3) and (c,)."""
    ramp = np.array(_RAMP_S)
    fallen = start_shape(time[None, :] - falls[:, None], ramp, response)
    risen = start_shape(time[None, :] - (falls + _RAMP_S + pauses)[:, None], ramp, response)
    steady = np.broadcast_to(time, fallen.shape)
    columns = np.stack([np.ones_like(fallen), steady - fallen, fallen - risen, risen], axis=2)
    gram = np.einsum("cnk,cnl->ckl", columns, columns) + 1e-9 * np.eye(4)
    moment = np.einsum("cnk,n->ck", columns, weight)
    solution = np.linalg.solve(gram, moment[..., None])[..., 0]
    misfit = ((np.einsum("cnk,ck->cn", columns, solution) - weight) ** 2).sum(axis=1)
    # A flow that would have to be negative is no explanation.
    misfit = np.where(solution[:, 1:].min(axis=1) < -0.25 * np.abs(solution[:, 1:]).max(axis=1), np.inf, misfit)
    return solution[:, 1:], misfit

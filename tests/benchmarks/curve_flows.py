"""The flow that each method sees, held against the true one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise

import numpy as np
import ruptures
from scipy.signal import savgol_filter

from drivers.simulated import SimulatedBrew
from logger.curve import analyse
from tests.benchmarks.curve_suite import Floats, even_weights, near, weights

Flow = tuple[Floats, Floats]
"""Times and flow, shape (n,) each."""


def flow_here(time_s: Floats, weight_g: Floats) -> Flow:
    """Give the flow that evencup sees."""
    found = analyse(time_s, weight_g)
    return found.time_s, found.flow_g_s


def flow_with_savgol(time_s: Floats, weight_g: Floats) -> Flow:
    """Give the smoothed derivative, steps faster than any kettle left out as where pours are read with it."""
    even_s, even_g = even_weights(time_s, weight_g, 0.1)
    flow = np.maximum(savgol_filter(even_g, 15, 2, deriv=1, delta=0.1), 0.0)
    flow[near(np.abs(np.gradient(even_g, 0.1)) > 25.0, 15)] = 0.0
    return even_s, flow


def flow_with_ruptures(time_s: Floats, weight_g: Floats) -> Flow:
    """Give the slope of each piece of the piecewise linear model, of those that may be water."""
    step_s = 0.2
    even_s, even_g = even_weights(time_s, weight_g, step_s)
    noise_g = max(float(np.median(np.abs(np.diff(even_g, n=2)))) / 1.65, 0.03)
    model = ruptures.BottomUp(model="clinear", min_size=2, jump=1).fit(even_g.reshape(-1, 1))
    ends = [0, *model.predict(pen=20.0 * noise_g**2 * np.log(even_g.size))]
    flow = np.zeros(even_g.size)
    for first, end in pairwise(ends):
        last = min(end, even_g.size - 1)
        slope = (even_g[last] - even_g[first]) / max((last - first) * step_s, step_s)
        flow[first:last] = slope if 0.5 < slope < 25.0 else 0.0
    return even_s, flow


FLOWS: dict[str, Callable[[Floats, Floats], Flow]] = {
    "evencup": flow_here,
    "derivative": flow_with_savgol,
    "ruptures": flow_with_ruptures,
}


def rmse_g_s(flow: Callable[[Floats, Floats], Flow], some: Iterable[SimulatedBrew]) -> float:
    """Median over brews of the root mean square error of the flow, from first reading to last."""
    errors = []
    for brew in some:
        at_s, seen_g_s = flow(*weights(brew))
        true_g_s = np.interp(at_s, brew.truth.time_s, brew.truth.flow_g_s)
        errors.append(float(np.sqrt(np.mean((seen_g_s - true_g_s) ** 2))))
    return float(np.median(errors))

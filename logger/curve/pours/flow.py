"""Flow: the slope of a straight line fitted around each moment, and the scale's lag taken out of it.

A local polynomial fitted by least squares (Savitzky and Golay, Anal. Chem. 36:1627, 1964) gives slope and
bend at its middle without shifting them in time. A scale with a mean delay of ``T`` shows a curve ``y``
where the pan bears ``y + T y'``; so the flow on the pan is ``y' + T y''``.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from logger.curve.brew import Floats

BEARABLE_G_S = 0.2
"""Standard deviation of the flow that is still a curve to look at."""


def slope_sd_g_s(noise_g: float, half: int, step_s: float) -> float:
    """Standard deviation of a line's slope over ``2 * half + 1`` values: ``s / sqrt(sum (t - mean t)^2)``."""
    return noise_g / (step_s * math.sqrt(_squares(half)))


def _squares(half: int) -> float:
    """Sum of the squares from ``-n`` to ``n``: ``n (n + 1) (2 n + 1) / 3``."""
    return half * (half + 1) * (2 * half + 1) / 3.0


def half_for(noise_g: float, step_s: float, wanted_sd_g_s: float, shortest_s: float, longest_s: float) -> int:
    """Choose the half-width of the window: the shortest that keeps the slope's noise below what is wanted."""
    half = max(round(0.5 * shortest_s / step_s), 2)
    longest = max(round(0.5 * longest_s / step_s), 2)
    needed = (noise_g / (step_s * wanted_sd_g_s)) ** 2
    while half < longest and _squares(half) < needed:
        half += 1
    return half


def slope_g_s(weight_g: Floats, half: int, step_s: float) -> Floats:
    """Slope of the local line (or parabola: the same by symmetry), shape as given."""
    return _filtered(weight_g, _kernel(half, 2, 1)) / step_s


def smooth_g(weight_g: Floats, half: int) -> Floats:
    """Value of the local parabola, shape as given."""
    return _filtered(weight_g, _kernel(half, 2, 0))


def flow_on_pan_g_s(weight_g: Floats, half: int, step_s: float, delay_s: float) -> Floats:
    """Flow with the scale's mean delay taken out, shape as given.

    :param half: half-width of the window, in steps
    :param delay_s: the scale's mean delay
    """
    return _filtered(weight_g, _flow_kernel(half, step_s, delay_s))


def flow_half_for(noise_g: float, step_s: float, delay_s: float) -> int:
    """Choose the half-width for :func:`flow_on_pan_g_s`: the shortest that keeps its noise bearable.

    Taking a lag out costs noise: the bend of a curve is harder to see than its slope.

    :param noise_g: of one value of the grid
    """
    half, longest = max(round(0.3 / step_s), 2), max(round(1.2 / step_s), 2)
    while half < longest and flow_sd_g_s(noise_g, half, step_s, delay_s) > BEARABLE_G_S:
        half += 1
    return half


def flow_sd_g_s(noise_g: float, half: int, step_s: float, delay_s: float) -> float:
    """Standard deviation of :func:`flow_on_pan_g_s`, from that of one value of the grid."""
    of_slope, of_bend = _powers(half)
    return noise_g * math.hypot(of_slope / step_s, of_bend * delay_s / step_s**2)


def _flow_kernel(half: int, step_s: float, delay_s: float) -> Floats:
    return np.asarray(_kernel(half, 2, 1) / step_s + delay_s * _kernel(half, 2, 2) / step_s**2)


@lru_cache(maxsize=64)
def _powers(half: int) -> tuple[float, float]:
    """Roots of the sums of the squares of slope's and bend's kernels, one odd, the other even: their sum's
    square is the sum of both squares.
    """
    return float(np.linalg.norm(_kernel(half, 2, 1))), float(np.linalg.norm(_kernel(half, 2, 2)))


@lru_cache(maxsize=64)
def _kernel(half: int, degree: int, derivative: int) -> Floats:
    at = np.arange(-half, half + 1, dtype=np.float64)
    powers = np.vander(at, degree + 1, increasing=True)
    row = np.linalg.pinv(powers)[derivative]
    return np.asarray(row * (2.0 if derivative == 2 else 1.0))[::-1].copy()


def _filtered(values: Floats, kernel: Floats) -> Floats:
    """Convolve, with the line through the ends carried on beyond them."""
    half = kernel.size // 2
    if values.size > half:
        before, after = 2.0 * values[0] - values[half:0:-1], 2.0 * values[-1] - values[-2 : -half - 2 : -1]
    else:
        before, after = np.full(half, values[0]), np.full(half, values[-1])
    return np.convolve(np.concatenate((before, values, after)), kernel, mode="valid")

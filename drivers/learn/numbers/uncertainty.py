"""How well the levels of a number at the loads are known, and the loads themselves."""

from __future__ import annotations

import math

import numpy as np

from drivers.learn.packets.arrays import Floats

_LEAST_ROUNDING = 0.03
"""What a level is at least uncertain by, in steps: noise is not quite even."""

_SMALLEST_SHARE = (0.253, 0.472, 0.579, 0.642)
"""By degrees of freedom, 1 to 4: square root of the 20 % quantile of chi-square over them; handbook table. Of
more it is near 1 - 0.84 / sqrt(2 free), as chi is nearly normal."""


def most_off(off: Floats, fitted: int = 2) -> float:
    """Give how far off the typed loads are at most, g or °C, judged by how well they lie on a line.

    The chi-square distribution: in four of five cases the residuals are not smaller than that share of it.

    :param fitted: what of the line was fitted to them: 2, or 1 where what stands for nothing is known
    """
    free = off.size - fitted
    share = _SMALLEST_SHARE[free - 1] if free <= len(_SMALLEST_SHARE) else 1.0 - 0.6 / math.sqrt(free)
    return scatter(off, fitted) / share


def scatter(off: Floats, fitted: int = 2) -> float:
    """Give the standard deviation of the loads about a line, g or °C: a pan that drifts has that besides.

    :param fitted: what of the line was fitted to them
    """
    return float(np.sqrt((off**2).sum() / (off.size - fitted)))


def error_of(some: Floats, grid: float) -> float:
    """Give the standard uncertainty of a level; the more neighbouring packets are alike, the fewer count."""
    spread = float(some.std())
    alike = 0.0
    if spread > 0.0:
        off = some - some.mean()
        alike = min(max(float((off[1:] * off[:-1]).mean()) / spread**2, 0.0), 0.95)
    count = some.size * (1.0 - alike) / (1.0 + alike)
    return math.hypot(spread / math.sqrt(count), _of_rounding(spread, grid))


def _of_rounding(spread: float, grid: float) -> float:
    """Give the standard uncertainty that the display's step leaves: noise of its size takes it away.

    The mean of rounded values is off by a sine of the true one, of amplitude exp(-2 (pi s)^2) / pi steps at a
    noise of s steps (Widrow and Kollar, Quantization Noise, section 4: from memory); without any, by a
    rectangle's 0.29.
    """
    noise = math.sqrt(max((spread / grid) ** 2 - 1.0 / 12.0, 0.0)) if grid > 0.0 else 1.0
    return grid * max(0.29 * math.exp(-2.0 * (math.pi * noise) ** 2), _LEAST_ROUNDING)

"""The step in which a number changes: of the display, not of its bytes."""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Floats

_FEWEST_VALUES, _ON_GRID = 12, 0.85
"""Different values that show a step of several counts, and the share of them that are multiples of it."""

_STEPS = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
_FINER = (5e-4, 2e-4, 1e-4, 5e-5, 2e-5, 1e-5, 5e-6, 2e-6, 1e-6)
"""Steps of numbers with decimals; the finer ones of text, in kg or lb."""

IDLE = 256
"""The step of a number whose lowest byte is idle."""

_OF_FLOATS = 0.7
"""The same of floats: damaged ones are something else each time."""


def grid_of(values: Floats, number: Number) -> float:
    """Give the step in which a number changes."""
    if number.encoding == "float":
        grid, kinds = _float_grid(values), np.unique(values)
        if kinds.size < _FEWEST_VALUES:
            return grid
        return min(grid, _float_grid(kinds, _OF_FLOATS))  # at rest all may be multiples of a coarser one
    if number.encoding == "ascii" or number.decimals_at >= 0:
        large = np.abs(values) >= np.median(np.abs(values))
        # Damage leaves digits digits: nearly every text is a multiple of the step.
        some = values[large] if number.decimals_at >= 0 else values
        steps = _STEPS if number.decimals_at >= 0 else (*_STEPS, *_FINER)
        grid = _float_grid(some, 0.9985, steps) or _float_grid(some, steps=steps) or steps[-1]
        if grid < 1.0:
            return grid
    kinds = np.unique(values)
    if kinds.size < _FEWEST_VALUES:
        return 1.0  # a few loads at rest are multiples of anything
    for grid in (1000, 500, IDLE, 200, 100, 50, 20, 10, 5, 2):
        if (kinds % grid == 0).mean() > _ON_GRID:
            return float(grid)
    return 1.0


def _float_grid(values: Floats, share: float = 0.97, steps: tuple[float, ...] = _STEPS) -> float:
    """Give the decimal or halved step that a float's values are multiples of; 0 where there is none."""
    close = 2e-6 if steps is _STEPS else 1e-9  # of four bytes, or of decimal digits
    for step in steps:
        counts = values / step
        if np.mean(np.abs(counts - np.round(counts)) < close * np.abs(counts) + 1e-3) > share:
            return step
    return 0.0

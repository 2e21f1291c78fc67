"""The step in which a number changes: of the display, not of its bytes."""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers import Floats, Number

_FEWEST_VALUES, _ON_GRID = 12, 0.85
"""Different values that show a step of several counts, and the share of them that are multiples of it."""

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
        return _float_grid(some, 0.9985) or _float_grid(some) or 0.001
    kinds = np.unique(values)
    if kinds.size < _FEWEST_VALUES:
        return 1.0  # a few loads at rest are multiples of anything
    for grid in (100, 50, 20, 10, 5, 2):
        if (kinds % grid == 0).mean() > _ON_GRID:
            return float(grid)
    return 1.0


def _float_grid(values: Floats, share: float = 0.97) -> float:
    """Give the decimal or halved step that a float's values are multiples of; 0 where there is none."""
    for step in (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001):
        steps = values / step
        if np.mean(np.abs(steps - np.round(steps)) < 2e-6 * np.abs(steps) + 1e-3) > share:
            return step
    return 0.0

"""The step in which a number changes: of the display, not of its bytes."""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Floats, Marks

_FEWEST_VALUES, _ON_GRID = 12, 0.85
"""Different values that show a step of several counts, and the share of them that are multiples of it."""

_OF_HALVES, _CLOSE_OF_HALVES, _TOLD = 2, 5e-4, 0.2
"""Bytes of a half float; by what share of itself it may be off, of eleven bits; and by how much of a step, so
that it is a multiple of one and not anything."""

_FEWEST_ON_WAY = 3
"""Values of a float besides those of the loads, that tell its step."""

_STEPS = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
_FINER = (5e-4, 2e-4, 1e-4, 5e-5, 2e-5, 1e-5, 5e-6, 2e-6, 1e-6)
"""Steps of numbers with decimals; the finer ones of text, in kg or lb."""

_COARSE = (1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0)
"""Steps of several counts: those of a display, as thousandths of a gram for instance."""

IDLE = 256
"""The step of a number whose lowest byte is idle."""

_OF_FLOATS = 0.7
"""The same of floats: damaged ones are something else each time."""


def grid_of(values: Floats, number: Number) -> float:
    """Give the step in which a number changes."""
    if number.encoding == "float":
        return _grid_of_floats(values) or (_half_float_grid(values) if number.width == _OF_HALVES else 0.0)
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
    for grid in (*_COARSE[:2], IDLE, *_COARSE[2:]):
        if (kinds % grid == 0).mean() > _ON_GRID:
            return float(grid)
    return 1.0


def _grid_of_floats(values: Floats) -> float:
    """Give the step in which a float changes that holds it exactly, or nearly; 0 where it is in none."""
    grid, kinds = _float_grid(values), np.unique(values)
    if kinds.size < _FEWEST_VALUES:
        beside = kinds[~_are_multiples(kinds, grid)] if grid else kinds[:0]
        finer = _float_grid(beside, _OF_FLOATS) if beside.size >= _FEWEST_ON_WAY else 0.0
        return finer or grid  # all loads may be whole, and few packets come on the way
    if grid == _STEPS[0] and (coarse := _float_grid(kinds, _ON_GRID, _COARSE)):
        return coarse
    return min(grid, _float_grid(kinds, _OF_FLOATS))  # at rest all may be multiples of a coarser one


def _float_grid(values: Floats, share: float = 0.97, steps: tuple[float, ...] = _STEPS) -> float:
    """Give the decimal or halved step that a float's values are multiples of; 0 where there is none."""
    close = 2e-6 if steps is _STEPS else 1e-9  # of four bytes, or of decimal digits
    return next((step for step in steps if np.mean(_are_multiples(values, step, close)) > share), 0.0)


def _half_float_grid(values: Floats) -> float:
    """Give the step of floats of two bytes, in which their digits do not hide it; 0 where there is none."""
    kinds = np.unique(values)
    if kinds.size < _FEWEST_VALUES:
        return 0.0
    off = _CLOSE_OF_HALVES * float(np.percentile(np.abs(values), 95))
    told = (step for step in _STEPS if off < _TOLD * step)
    return next(
        (step for step in told if _are_multiples(kinds, step, _CLOSE_OF_HALVES).mean() > _OF_FLOATS), 0.0
    )


def _are_multiples(values: Floats, step: float, close: float = 2e-6) -> Marks:
    """Say for each value whether it is a multiple of a step.

    :param close: by what share of itself it may be off
    """
    counts = values / step
    return np.asarray(np.abs(counts - np.round(counts)) < close * np.abs(counts) + 1e-3)

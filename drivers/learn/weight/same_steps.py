"""The step of a number that is sent in several kinds of packets: that of those which show it best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place

_ON_STEP, _ALL_ON_STEP = 1e-3, 0.97
"""How near a multiple of a step is, in steps; and the share of packets that are, but for damage."""


def with_grids(fits: Sequence[Fit]) -> list[Fit]:
    """Give the same number the same step in all kinds, that of most packets: a few hardly show it.

    So with a message that repeats it now and then, in the same counts.
    """
    most: dict[tuple[object, ...], Fit] = {}
    for one in fits:
        key = _same_number(one)
        if key not in most or len(one.kind.frames) > len(most[key].kind.frames):
            most[key] = one
    fits = [replace(one, grid=most[_same_number(one)].grid) for one in fits]
    return [_in_steps_of_oftener(one, fits) for one in fits]


def _in_steps_of_oftener(one: Fit, fits: Sequence[Fit]) -> Fit:
    """Give a number the step of one in the same counts that comes more often, where it is on that as well."""
    counts = len(one.kind.frames)
    coarser = {
        each.grid for each in fits
        if each.scale is not None and each.scale == one.scale and each.number.encoding == one.number.encoding
        and each.grid > one.grid and len(each.kind.frames) > counts
    }  # fmt: skip
    if not coarser:
        return one
    values = one.number.values(one.kind.frames[rows_in_place(one)])
    for grid in sorted(coarser, reverse=True):
        off = np.abs(values / grid - np.round(values / grid))
        if (off < _ON_STEP).mean() > _ALL_ON_STEP:
            return replace(one, grid=grid)
    return one


def _same_number(one: Fit) -> tuple[object, ...]:
    return one.kind.stream, one.kind.length, one.kind.make, one.number

"""A factor that is not round, told by other bytes of the same packets that say the same in round steps.

Noise of the load is in both alike, so that what a copy says tells more of the factor than the known loads do:
an instrument that sends its weight in ounces as well has worked that out with the factor that it knows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.uncertainty import most_off
from drivers.learn.packets.arrays import Floats

_CLEARLY_BETTER, _AGREES, _INSIDE = 0.7, 3.0, 0.97
"""Share of its uncertainty that a factor must be left with; by how many of those both may differ."""

_ROUNDED, _FEWEST_PAIRS = 0.55, 12
"""Steps by which a rounded copy is off at most; pairs of a number and its copy that tell more than loads."""


def with_factor_of_copy(one: Fit, copies: Sequence[Fit], loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number the factor that the best of its copies tells, where that is known much better.

    :param copies: other numbers that follow the load
    """
    if one.scale is not None:
        return one
    beside = [
        each for each in copies
        if each.scale is not None and each.kind.is_like(one.kind)
        and not each.number.covers & one.number.covers
    ]  # fmt: skip
    seen = [again for each in beside if (again := fit(one.kind, each.number, loads, quantity)) is not None]
    told = [again for each in seen if (again := _told_by(each, one)) is not None]
    return min(told, key=lambda again: again.slope_error, default=one)


def _told_by(each: Fit, one: Fit) -> Fit | None:
    """Give a number the factor that another one tells; None where that tells no more."""
    if each.scale is None or each.zero_kind != "none" or each.inside < _INSIDE:
        return None
    at_rest = each.loads_of(each.levels), one.levels
    ways = [_line_through(*at_rest, one)]
    if (pairs := _shown_together(each, one)) is not None:
        ways.append(_line_through(*pairs, one))
    told = min(ways, key=lambda again: again.slope_error)
    is_better = told.slope_error <= _CLEARLY_BETTER * one.slope_error
    return told if is_better and abs(told.slope - one.slope) <= _AGREES * one.slope_error else None


def _shown_together(each: Fit, one: Fit) -> tuple[Floats, Floats] | None:
    """Give what two numbers say in the same packets, moving ones too, each pair once; None where one lags.

    :returns: a copy, g or °C, and the counts of the number, both of shape (n,)
    """
    rows = rows_in_place(each) & rows_in_place(one)
    counts = one.number.values(one.kind.frames)[rows]
    says = each.loads_of(each.number.values(each.kind.frames)[rows])
    pairs = np.unique(np.stack((says, counts)), axis=1)
    off = np.abs(pairs[0] - one.loads_of(pairs[1]))
    # Damage apart, both are the same weight, and the copy is rounded.
    near = _ROUNDED * each.step + 0.5 * one.step + _AGREES * abs(one.slope_error / one.slope) * each.span
    is_same = off <= near
    if is_same.sum() < _FEWEST_PAIRS or is_same.mean() < _INSIDE:
        return None
    return pairs[0][is_same], pairs[1][is_same]


def _line_through(says: Floats, counts: Floats, one: Fit) -> Fit:
    """Give a number the factor by which its counts go with a weight.

    :param says: the weight, g or °C, shape (n,)
    :param counts: of the number, shape (n,)
    """
    if one.zero_kind == "odd":
        middle, lever = float(says.mean()), float(says.std()) * math.sqrt(says.size)
        slope = float(((says - middle) * (counts - counts.mean())).sum()) / lever**2
        zero = float(counts.mean()) - slope * middle
    else:
        zero, lever = one.zero, math.sqrt(float((says**2).sum()))
        slope = float((says * (counts - zero)).sum()) / lever**2
    error = most_off(says - (counts - zero) / slope) / lever * abs(slope)
    return replace(one, slope=slope, offset=zero, zero=zero, slope_error=error)

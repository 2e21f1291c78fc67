"""A factor that is not round, told by other bytes of the same packets that say the same in round steps.

Noise of the load is in both alike, so that what a copy says tells more of the factor than the known loads do:
an instrument that sends its weight in ounces as well has worked that out with the factor that it knows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from drivers.learn.capture import Load, Quantity
from drivers.learn.fitting import Fit, fit, most_off

_CLEARLY_BETTER, _AGREES, _INSIDE = 0.5, 3.0, 0.97
"""Share of its uncertainty that a factor must be left with; by how many of those both may differ."""


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
    says, levels = each.loads_of(each.levels), one.levels
    if one.zero_kind == "odd":
        middle, lever = float(says.mean()), float(says.std()) * math.sqrt(says.size)
        slope = float(((says - middle) * (levels - levels.mean())).sum()) / lever**2
        zero = float(levels.mean()) - slope * middle
    else:
        zero, lever = one.zero, math.sqrt(float((says**2).sum()))
        slope = float((says * (levels - zero)).sum()) / lever**2
    error = most_off(says - (levels - zero) / slope) / lever * abs(slope)
    if error > _CLEARLY_BETTER * one.slope_error or abs(slope - one.slope) > _AGREES * one.slope_error:
        return None
    return replace(one, slope=slope, offset=zero, zero=zero, slope_error=error)

"""Which further load would tell, where the loads so far leave two readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.fitting import Fit
from drivers.learn.widths.capacity import capacity

_LIGHT, _LIGHTER = 100.0, 20.0
"""Up to where an instrument may show more digits behind the point; and a load to ask for."""

_PART = 0.7
"""Of a gram or degree, which digits behind a point show as no others than they are."""

_CLEARLY_HEAVIER, _HEAVIER = 1.2, 1.5
"""By how much a load is heavier than all so far if it is to tell a factor, at least; and one to ask for."""

_BEYOND = 1.2
"""By how much a load is heavier than the end of a number if it is to tell what stands above it."""

_CARRIES_G = 2000.0
"""What a scale that is brewed with carries, if it carries more than what has lain on it."""


def between_or_beyond(loads: Sequence[Load]) -> float:
    """Give a load in the middle of the widest gap, or beyond the last, where chance hardly fits again."""
    values = sorted({load.value for load in loads})
    gaps = [(high - low, (high + low) / 2) for low, high in pairwise(values)]
    width, middle = max(gaps, default=(0.0, 0.0))
    beyond = values[-1] * 1.6
    return round(middle if width > 0.4 * (beyond - values[-1]) else beyond, -1) or round(beyond, 1)


def no_whole_number(loads: Sequence[Load]) -> float:
    """Give such a load that is no whole number: it shows digits behind a point or comma."""
    return between_or_beyond(loads) + _PART


def beyond_bytes(one: Fit, least: float) -> float:
    """Give a load that needs more bytes than those seen to move.

    :param least: what any instrument of the kind can say, g or °C
    """
    most = capacity(one)
    if most < least:
        return float(math.ceil(_BEYOND * most))
    return float(math.ceil(300.0 / abs(one.per_unit)))


def beyond_end(one: Fit) -> float | None:
    """Give a load that a number has no room for as it was found, g or °C; None where it has room for any."""
    most = capacity(one)
    return float(math.ceil(_BEYOND * most)) if math.isfinite(most) else None


def below_nought(heaviest: float) -> float:
    """Give a load below zero: a vessel that was tared, lifted off.

    :param heaviest: what has lain on it, g or °C
    """
    return -round(0.5 * heaviest, -1)


def heavier(one: Fit, loads: Sequence[Load], heavy: float, *, is_weight: bool) -> float | None:
    """Give a load that is clearly heavier than all so far; None where the device may not go so far.

    :param heavy: one that is at hand and tells, where none as large has been given, g or °C
    :param is_weight: no water is hotter than boiling, but vessels can be heavier
    """
    heaviest = max(abs(load.value) for load in loads)
    if heavy >= _CLEARLY_HEAVIER * heaviest:
        return heavy
    wanted = round(_HEAVIER * heaviest, -1)
    return wanted if is_weight and wanted <= min(_CARRIES_G, capacity(one)) else None


def of_another_size(loads: Sequence[Load], heavy: float) -> float:
    """Give a light load where all have been heavy, and a heavy one else."""
    least = min((abs(load.value) for load in loads if load.value), default=0.0)
    return _LIGHTER if least > _LIGHT else heavy

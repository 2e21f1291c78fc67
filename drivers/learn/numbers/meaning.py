"""What slope and offset of a number mean: a round scale where one is near enough, else a factor."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache

import numpy as np

from drivers.learn.captures.capture import Quantity
from drivers.learn.numbers.number import Number, middle_of
from drivers.learn.numbers.scales import ODD, Scale, round_scales
from drivers.learn.packets.arrays import Floats

_ZERO_OFF, _STEPS_OFF = {"weight": 0.6, "temperature": 1.0}, {"weight": 2.0, "temperature": 0.0}
"""How far an instrument drifts from its last tare: g or °C, and steps of its display."""

_DRIFT_COST = 1.5
"""How unlikely a drift by steps of a coarse display is, a natural logarithm."""

_MOST_BARE = 6e-4
"""Share by which a factor may be off a round one, at most, where the number for nothing is any."""

_BARE_COST = 4.0
"""How unlikely halves, fifths and ounces are where the number for nothing is any, a natural logarithm."""

_ROUND_OFF = 0.1
"""The same for a round number that stands for nothing, as a share: it is one by design, and not by chance."""


def meaning_of_line(
    typed: Floats,
    levels: Floats,
    errors: Floats,
    slope: float,
    offset: float,
    slope_error: float,
    least_error: float,
    grid: float,
    number: Number,
    quantity: Quantity,
) -> tuple[Scale | None, float, str, float]:
    """Find the round meaning of slope and offset, the likeliest that is near enough.

    :param typed: the loads, g or °C, shape (k,)
    :param levels: what the number says at each, counts, with ``errors`` its standard uncertainty; shape (k,)
    :param slope: counts per g or °C, with ``offset`` the counts that stand for nothing
    :param slope_error: standard uncertainty of the slope, the loads being what a brewer's are
    :param least_error: the same, the loads being as exact as they look
    :param grid: the step in which the number changes, counts
    :returns: the scale, or None where it is none that anybody has chosen; the counts that stand for nothing,
        and why: ``none``, ``half``, ``round`` or ``odd``; and how unlikely that is, a natural logarithm
    """
    best: tuple[float, Scale | None, float, str] = (math.inf, None, offset, "odd")
    zero_off, steps_off = _ZERO_OFF[quantity], _STEPS_OFF[quantity] * grid
    away = max(float(typed.std()) * math.sqrt(len(typed)), 1e-9)
    coarse = 2.5 * float(np.sqrt((errors**2).mean())) / away / abs(slope)
    if abs(slope_error / slope) < 0.02 and slope > 0:
        unsure, bare = 3.0 * slope_error / abs(slope), 3.0 * least_error / abs(slope)
        for scale in _near(slope, unsure, coarse, quantity):
            apart = abs(scale.per_unit / slope - 1.0)
            for zero, zero_kind, cost in _zeros(
                scale, number, float(middle_of(levels - scale.per_unit * typed)), zero_off, steps_off
            ):
                off = np.abs((levels - zero) / scale.per_unit - typed)
                # Where nothing is any number, nobody has set the rest to a round figure either.
                is_bare = zero_kind in ("odd", "round")
                limit = 3.0 * errors / scale.per_unit + zero_off + scale.tolerance * np.abs(typed)
                # A check that adds a fixed byte to the number is some steps off as well.
                is_off = bool((off > limit).any())
                if is_off and (is_bare or (off > limit + steps_off / scale.per_unit).any()):
                    continue
                if is_bare and apart > min(bare, _MOST_BARE):
                    continue
                total = (
                    scale.cost
                    + cost
                    + _DRIFT_COST * is_off
                    + _BARE_COST * (is_bare and not _is_decimal(scale))
                    + 0.5 * min((apart / math.hypot(scale.tolerance / 2, unsure / 3)) ** 2, 16.0)
                )
                if total < best[0]:
                    best = total, scale, zero, zero_kind
    odd_offset = abs(offset) > 0.02 * abs(slope) * np.ptp(typed) + 3.0
    cost = ODD + (1.0 if odd_offset else 0.0)
    if slope < 0:
        cost += 1.0
    if best[0] <= cost:
        return best[1], best[2], best[3], best[0]
    half = float(1 << (8 * number.width - 1))
    exact = (
        1.5 * (number.encoding not in ("float", "ascii"))
        + 3.0 * float(middle_of(errors))
        + 0.03 * abs(slope) * (zero_off < 1.0)
    )
    if number.encoding == "integer" and not number.mask and abs(offset - half) <= exact:
        return None, half, "half", ODD + 1.0
    if abs(offset) <= exact:
        return None, 0.0, "none", cost
    return None, offset, "odd", cost


def _is_decimal(scale: Scale) -> bool:
    """Say whether a step is a gram, a tenth of one, a hundredth ...: bare counts are put in such at times."""
    return (
        scale.unit in ("g", "°C")
        and (scale.scale.numerator == 1 or scale.scale.denominator == 1)
        and (str(scale.scale.numerator * scale.scale.denominator).strip("0") == "1")
    )


def _near(slope: float, unsure: float, coarse: float, quantity: Quantity) -> Iterator[Scale]:
    """Give the round meanings that are near enough."""
    scales = round_scales(quantity)
    per_unit, tolerance = _arrays(quantity)
    allowed = np.maximum(np.maximum(tolerance, np.minimum(unsure, 3.0 * tolerance)), coarse)
    for at in np.flatnonzero(np.abs(per_unit / slope - 1.0) <= allowed):
        yield scales[at]


@cache
def _arrays(quantity: Quantity) -> tuple[Floats, Floats]:
    scales = round_scales(quantity)
    return np.array([one.per_unit for one in scales]), np.array([one.tolerance for one in scales])


def _zeros(
    scale: Scale, number: Number, offset: float, zero_off: float, steps_off: float
) -> Iterator[tuple[float, str, float]]:
    """Give the numbers that may stand for nothing, with their costs."""
    near = zero_off * scale.per_unit + max(1.5, steps_off)
    if abs(offset - scale.offset) <= near:
        yield scale.offset, "none", 0.0
    if number.encoding == "integer" and not number.signed:
        half = float(1 << ((number.mask.bit_length() if number.mask else 8 * number.width) - 1))
        if abs(offset - half - scale.offset) <= near:
            yield half + scale.offset, "half", 0.5
    size = 10.0 ** max(0, math.floor(math.log10(abs(offset))) - 1) if abs(offset) >= 10 else 1.0
    rounded = round(offset / size) * size
    if abs(offset - rounded) <= min(_ROUND_OFF * zero_off * scale.per_unit + 0.6, 0.2 * size):
        yield rounded, "round", 3.0
    yield float(round(offset)), "odd", 5.0

"""What slope and offset of a number mean: a round scale where one is near enough, else a factor."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from drivers.learn.captures.capture import Quantity
from drivers.learn.numbers.number import Number, middle_of
from drivers.learn.numbers.resting import Line, Rests, brewers_error, shown_error
from drivers.learn.numbers.scales import ODD, Scale, round_scales
from drivers.learn.packets.arrays import Floats

_ZERO_OFF, _STEPS_OFF = {"weight": 0.6, "temperature": 1.0}, {"weight": 2.0, "temperature": 0.0}
"""How far an instrument drifts from its last tare: g or °C, and steps of its display."""

_TELLS_NOTHING = 0.02
"""Share by which a slope is so uncertain that any scale would be near it."""

_DRIFT_COST = 1.5
"""How unlikely a drift by steps of a coarse display is, a natural logarithm."""

_MOST_BARE = 6e-4
"""Share by which a factor may be off a round one, at most, where the number for nothing is any."""

_BARE_COST = 4.0
"""How unlikely halves, fifths and ounces are where the number for nothing is any, a natural logarithm."""

_CLOSELY = 0.67
"""Of what the loads themselves leave open of a factor, the share by which one of a float may be off round."""

_DIVISION = 9.5
"""Counts of a step that no converter goes in: a display does, in thousandths of a gram."""

_ROUND_OFF = 0.1
"""The same for a round number that stands for nothing, as a share: it is one by design, and not by chance."""


@dataclass(frozen=True)
class Meaning:
    """What slope and offset of a number mean.

    :param scale: the scale, or None where it is none that anybody has chosen
    :param zero: the counts that stand for nothing
    :param zero_kind: why those: ``none``, ``half``, ``round`` or ``odd``
    :param cost: how unlikely that is, a natural logarithm
    """

    scale: Scale | None
    zero: float
    zero_kind: str
    cost: float


def meaning_of_line(rests: Rests, line: Line, number: Number, quantity: Quantity) -> Meaning:
    """Find the round meaning of slope and offset, the likeliest that is near enough.

    :param rests: what the number says at each load
    :param line: the line through that
    """
    odd_offset = abs(line.offset) > 0.02 * abs(line.slope) * rests.span + 3.0
    cost = ODD + 1.0 * odd_offset + 1.0 * (line.slope < 0)
    best = min(_round_ones(rests, line, number, quantity), key=lambda one: one.cost, default=None)
    if best is not None and best.cost <= cost:
        return best
    half = float(1 << (8 * number.width - 1))
    exact = (
        1.5 * (number.encoding not in ("float", "ascii"))
        + 3.0 * float(middle_of(rests.errors))
        + 0.03 * abs(line.slope) * (_ZERO_OFF[quantity] < 1.0)
    )
    if number.encoding == "integer" and not number.mask and abs(line.offset - half) <= exact:
        return Meaning(None, half, "half", ODD + 1.0)
    if abs(line.offset) <= exact:
        return Meaning(None, 0.0, "none", cost)
    return Meaning(None, line.offset, "odd", cost)


def _round_ones(rests: Rests, line: Line, number: Number, quantity: Quantity) -> Iterator[Meaning]:
    """Give the meanings that somebody has chosen, and that are near enough."""
    slope_error = brewers_error(line, rests, quantity)
    if line.slope <= 0 or abs(slope_error / line.slope) >= _TELLS_NOTHING:
        return
    unsure = 3.0 * slope_error / line.slope
    bare = 3.0 * shown_error(line, rests, quantity, with_scatter=False) / line.slope
    coarse = 2.5 * float(np.sqrt((rests.errors**2).mean())) / rests.away / line.slope
    zero_off, steps_off = _ZERO_OFF[quantity], _STEPS_OFF[quantity] * rests.grid
    for scale in _near(line.slope, unsure, coarse, quantity):
        apart = abs(scale.per_unit / line.slope - 1.0)
        may_be_bare = number.encoding == "float" and scale.scale != 1 and rests.grid < _DIVISION
        if may_be_bare and apart > _CLOSELY * bare:
            continue  # a float holds the unit itself as a rule, else exactly a part of it, or bare counts
        offset = float(middle_of(rests.levels - scale.per_unit * rests.typed))
        for zero, zero_kind, cost in _zeros(scale, number, offset, zero_off, steps_off):
            off = np.abs((rests.levels - zero) / scale.per_unit - rests.typed)
            # Where nothing is any number, nobody has set the rest to a round figure either.
            is_bare = zero_kind in ("odd", "round")
            limit = 3.0 * rests.errors / scale.per_unit + zero_off + scale.tolerance * np.abs(rests.typed)
            # A check that adds a fixed byte to the number is some steps off as well.
            is_off = bool((off > limit).any())
            if is_off and (is_bare or (off > limit + steps_off / scale.per_unit).any()):
                continue
            if is_bare and apart > min(bare, _MOST_BARE):
                continue
            cost += _DRIFT_COST * is_off + _BARE_COST * (is_bare and not _is_decimal(scale))
            cost += 0.5 * min((apart / math.hypot(scale.tolerance / 2, unsure / 3)) ** 2, 16.0)
            yield Meaning(scale, zero, zero_kind, scale.cost + cost)


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

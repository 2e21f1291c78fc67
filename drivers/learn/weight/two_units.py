"""A weight in grams beside the same in ounces, neither worked out from the other: which is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit, rows_in_place
from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Floats
from drivers.learn.weight.copies import METRIC, agree
from drivers.learn.weight.shown import COARSEST_SHOWN

COARSER_THAN_TENTHS = 0.12
"""Steps, g, from which on one is a division that a display was given: a half, a whole gram."""

_HALF = 0.5
"""Share of the packets of one kind that another must have to be as good."""

_FEW_DAMAGED, _FEW_OF_PAIRS = 2, 0.02
"""Pairs of a number and its copy that damage alone explains, and as a share of all."""

_CLEARLY_MORE, _OR_BELOW = 1e-3, 0.85
"""Share of a step by which something is more; share of the packets in which a number is in place whose sign
has not been looked for."""


def grams_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put grams of a display first, where ounces are the best and neither is worked out from the other.

    Twos and fives are a division that a display has been given. Ounces come in hundredths whatever that is,
    and tell a little more of the load than whole grams do. Thousandths tell far more, and may be what is
    shown, as may grams in tenths; and what sends both ounces and pounds may show either of those.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    if any(_is_in_another_unit(one, best) and agree(best, one) for one in prompt):
        return list(prompt)
    grams = [one for one in prompt if are_grams_beside_ounces(one, best) and agree(best, one)]
    first = min(grams, key=lambda one: one.step, default=best)
    if first is best or not are_ounces_beside_division(best, first):
        return list(prompt)
    return [first, *(one for one in prompt if one is not first)]


def _is_in_another_unit(each: Fit, one: Fit) -> bool:
    """Say whether one of two numbers is in ounces and the other in pounds."""
    if each.scale is None or one.scale is None:
        return False
    return not {each.scale.unit, one.scale.unit} & {*METRIC} and each.scale.unit != one.scale.unit


def are_ounces_beside_division(each: Fit, one: Fit) -> bool:
    """Say whether a number in ounces stands beside grams whose step is the division of a display."""
    if each.scale is None or one.scale is None or each.scale.unit in METRIC or one.scale.unit not in METRIC:
        return False
    return _is_in_twos_or_fives(one) or one.step > each.step > COARSER_THAN_TENTHS


def _is_in_twos_or_fives(one: Fit) -> bool:
    """Say whether a number goes in steps of 2 or 5, 0.2, 0.5 ... of its unit."""
    leading = one.step / 10.0 ** math.floor(math.log10(one.step) + _CLEARLY_MORE) if one.step > 0.0 else 1.0
    return any(abs(leading - step) < _CLEARLY_MORE for step in (2.0, 5.0))


def are_grams_beside_ounces(each: Fit, one: Fit) -> bool:
    """Say whether a device sends grams where ounces have been chosen, and works neither out from the other.

    Finer ounces tell more of the load, but where grams are sent, those are what is shown more often than not.
    """
    if each.scale is None or one.scale is None or one.scale.unit in METRIC or each.scale.unit not in METRIC:
        return False
    if each.zero_kind not in KNOWN_ZEROS or not 0.0 < each.step <= COARSEST_SHOWN or each.inside < _OR_BELOW:
        return False
    if each.kind.stream != one.kind.stream:
        return len(each.kind.frames) > _HALF * len(one.kind.frames)
    return _are_rounded_apart(each, one)


def _are_rounded_apart(each: Fit, one: Fit) -> bool:
    """Say whether two numbers of the same packets are one weight, neither worked out from the other."""
    number = _in_frames_of(one, each)
    if number is None:
        return False
    beside = replace(each, kind=one.kind, number=number)
    says, other = (some.loads_of(some.number.values(one.kind.frames)) for some in (beside, one))
    rows = rows_in_place(one) & rows_in_place(beside, one.kind)
    off = np.diff(np.unique(np.stack((other, says))[:, rows], axis=1), axis=0)[0]
    return not any(_is_rounding(off, step) for step in (each.step, one.step))


def _is_rounding(off: Floats, step: float) -> bool:
    """Say whether a number is never further from another one than rounding or cutting off takes it.

    What was rounded before and is rounded again is off by half a step of its own at most; two that are
    rounded by themselves are off by half a step of each.

    :param off: how far the two are apart, g or °C, for each pair of values once
    """
    half = 0.5 * step
    beyond = [
        int((np.abs(off - middle) > (1.0 + _CLEARLY_MORE) * half).sum()) for middle in (0.0, half, -half)
    ]
    return min(beyond) <= max(_FEW_DAMAGED, _FEW_OF_PAIRS * off.size)


def _in_frames_of(one: Fit, each: Fit) -> Number | None:
    """Give another number as it stands in the frames of one, where those are cut elsewhere as well.

    :returns: None where it does not stand in them, or has bytes of that one
    """
    number, begins, others = each.number, one.kind.begins, each.kind.begins
    if not each.kind.is_like(one.kind):
        if begins is None or others is None or not begins.size or not others.size:
            return None
        if (each.kind.stream, each.kind.length) != (one.kind.stream, one.kind.length):
            return None
        before = np.maximum(np.searchsorted(begins, others, side="right") - 1, 0)
        turn = int(np.median(others - begins[before]))
        number = replace(number, offset=number.offset + turn, sign=None, decimals_at=-1)
        if not 0 <= number.offset <= one.kind.length - number.width:
            return None
    return None if number.covers & one.number.covers else number

"""The byte above a number where a part of it is the number's own: its sign, or bits below flags."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.neighbours import WIDEST
from drivers.learn.numbers.number import SignPlace

_ENOUGH = 3000.0
"""What digits need not say more than, g or °C."""

_ONLY_SIGN, _FEWEST_FILLED, _WIDEST_DIGITS, _FEW_LOST = 0.98, 3, 5, 0.004


def with_its_sign_bit(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the byte above a number into it, where that is the top bit of its sign and nothing else.

    A sign that stands apart is read in the same way so; and the number may go on in that byte.
    """
    number, sign = one.number, one.number.sign
    at = number.offset - 1 if number.order == "big" else number.end
    if number.encoding == "bcd":
        return _with_its_sign_half(one, at, loads, quantity)
    if (
        number.encoding != "integer"
        or number.mask
        or number.width >= WIDEST
        or sign is None
        or sign.offset != at
    ):
        return one
    if not np.isin(one.kind.frames[:, at], (0x00, 0x80)).mean() > _ONLY_SIGN or sign.mask not in (0x80, 0xFF):
        return one
    wider = replace(
        number, offset=min(at, number.offset), width=number.width + 1, sign=None, signed="sign-bit"
    )
    return _unless_worse(fit(one.kind, wider, loads, quantity), one)


def _unless_worse(wider: Fit | None, one: Fit) -> Fit:
    """Give a number with more bits, if no more packets are lost by it than damage makes senseless there."""
    lost = max(_FEW_LOST, 1.5 / len(one.kind.frames))
    return wider if wider is not None and wider.inside >= one.inside - lost else one


def with_upper_bits(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in the bits above a number, below flags, that fill with ones where it falls below nought."""
    number, frames = one.number, one.kind.frames
    at = number.offset - 1 if number.order == "big" else number.end
    if number.encoding != "integer" or number.mask or number.width >= WIDEST or not 0 <= at < one.kind.length:
        return one
    flags, bits = frames[:, at] >> 4, frames[:, at] & 0x0F
    filled = bits == 0x0F
    if filled.sum() < _FEWEST_FILLED or np.isin(bits, (0x00, 0x0F)).mean() < _ONLY_SIGN:
        return one
    if filled.mean() > _ONLY_SIGN:
        return one  # what is always filled follows no sign
    if (flags[filled] == 0x0F).mean() > 1.0 - _ONLY_SIGN:
        return one  # all of the byte is filled
    wider = replace(
        number, offset=min(at, number.offset), width=number.width + 1, sign=None, signed="twos-complement",
        mask=(1 << 8 * number.width + 4) - 1,
    )  # fmt: skip
    again = fit(one.kind, wider, loads, quantity)
    is_as_good = again is not None and again.inside > one.inside - _FEW_LOST and again.path < one.path + 1e-9
    if again is None or not is_as_good or (again.scale, again.zero_kind) != (one.scale, one.zero_kind):
        return one  # a byte that is always filled is none of it
    return again


def _with_its_sign_half(one: Fit, at: int, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the byte above digits into the number, where its upper half is the sign, its lower one a digit."""
    number, sign = one.number, one.number.sign
    if sign is None:
        return _with_digit_below_mark(one, at, loads, quantity)
    if (
        sign.offset != at
        or (sign.mask != 0xFF and sign.mask & 0x0F)
        or number.mask
        or number.width >= _WIDEST_DIGITS
    ):
        return one
    codes = {*sign.negative, *sign.positive} if sign.mask == 0xFF else set()
    if any(code & 0x0F for code in codes) or not (one.kind.frames[:, at] & 0x0F == 0).mean() > _ONLY_SIGN:
        return one
    if sign.mask == 0xFF:
        halves = [tuple(code >> 4 for code in some) for some in (sign.negative, sign.positive)]
        sign = SignPlace(at, 0xF0, *halves)
    return _with_lower_half(one, at, sign, loads, quantity)


def _with_digit_below_mark(one: Fit, at: int, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in the lower half of the byte above digits that no load has needed, below a mark that stays."""
    number, length = one.number, one.kind.length
    first = 1 if one.kind.is_cut else 0  # a header must be left
    reach = (10.0 ** (2 * number.width) - 1.0) / abs(one.per_unit)
    if number.mask or not first <= at < length or number.width >= _WIDEST_DIGITS or reach > _ENOUGH:
        return one
    column = one.kind.frames[:, at]
    usual = int(np.bincount(column).argmax())
    if usual & 0x0F or not usual or (column == usual).mean() < _ONLY_SIGN:
        return one
    return _with_lower_half(one, at, None, loads, quantity)


def _with_lower_half(
    one: Fit, at: int, sign: SignPlace | None, loads: Sequence[Load], quantity: Quantity
) -> Fit:
    number, width = one.number, one.number.width + 1
    wider = replace(
        number, offset=min(at, number.offset), width=width, mask=(1 << 8 * width - 4) - 1, sign=sign,
    )  # fmt: skip
    return _unless_worse(fit(one.kind, wider, loads, quantity), one)

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

_WIDEST_DIGITS = 5
"""Bytes of decimal digits, at most."""

_ONLY_SIGN, _FEW_LOST = 0.98, 0.004
"""Shares of packets in which bits are what they nearly always are, and that damage makes senseless."""

_NO_FURTHER = 1.01
"""How much further up and down a number goes with bits that are its own: packets below nought do as well."""

_FEWEST_FILLED = 3
"""Packets in which upper bits are filled with ones, by damage in fewer."""

_JUST_BELOW, _FOLLOWS = 128.0, 0.9
"""Counts below nought in which the upper bits must be filled, and the share of packets in which they are."""


def with_its_sign_bit(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the byte above a number into it, where that is the top bit of its sign and nothing else.

    A sign that stands apart is read in the same way so; and the number may go on in that byte.
    """
    number, sign = one.number, one.number.sign
    at = number.above_at
    if number.encoding == "bcd":
        return _with_its_sign_half(one, at, loads, quantity)
    if number.mask:
        return _up_to_its_sign(one, loads, quantity)
    if number.encoding != "integer" or number.width >= WIDEST or sign is None or sign.offset != at:
        return one
    if not np.isin(one.kind.frames[:, at], (0x00, 0x80)).mean() > _ONLY_SIGN or not _is_top_bit(sign):
        return _with_bits_below_sign(one, at, loads, quantity)
    wider = replace(
        number, offset=min(at, number.offset), width=number.width + 1, sign=None, signed="sign-bit"
    )
    return _unless_worse(fit(one.kind, wider, loads, quantity), one)


def _is_top_bit(sign: SignPlace) -> bool:
    """Say whether a sign is the top bit of its byte, or a byte of which that alone is set for a minus."""
    return (sign.mask, sign.negative) in ((0x80, (1,)), (0xFF, (0x80,)))


def _up_to_its_sign(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in the bits between a number and a sign above them in its highest byte, never needed so far."""
    number, sign = one.number, one.number.sign
    if number.encoding != "integer" or sign is None or sign.offset != number.highest_first[0]:
        return one
    mask = (sign.mask << 8 * (number.width - 1)) - 1
    raw = replace(number, mask=0, signed="", sign=None).values(one.kind.frames).astype(np.int64)
    is_single = sign.mask & (sign.mask - 1) == 0
    if not is_single or mask <= number.mask or not (raw & mask & ~number.mask == 0).mean() > _ONLY_SIGN:
        return one
    return _unless_worse(fit(one.kind, replace(number, mask=mask), loads, quantity), one)


def _unless_worse(wider: Fit | None, one: Fit) -> Fit:
    """Give a number with more bits, if no more packets are lost by it than damage makes senseless there."""
    lost = max(_FEW_LOST, 1.5 / len(one.kind.frames))
    return wider if wider is not None and wider.inside >= one.inside - lost else one


def _with_bits_below_sign(one: Fit, at: int, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in the bits of the byte above a number that stand below its sign, and that no load has needed."""
    number, sign = one.number, one.number.sign
    if sign is None or sign.mask & (sign.mask - 1) or sign.mask == 1:
        return one
    if not (one.kind.frames[:, at] & (sign.mask - 1) == 0).mean() > _ONLY_SIGN:
        return one
    wider = replace(
        number, offset=min(at, number.offset), width=number.width + 1,
        mask=(sign.mask << 8 * number.width) - 1,
    )  # fmt: skip
    again = fit(one.kind, wider, loads, quantity)
    return again if again is not None and again.inside >= one.inside - _FEW_LOST else one


def with_upper_bits(one: Fit, loads: Sequence[Load], quantity: Quantity, fewest: int = _FEWEST_FILLED) -> Fit:
    """Take in the bits above a number, below flags, that fill with ones where it falls below nought.

    :param fewest: packets in which they are filled
    """
    number = one.number
    at = number.above_at
    if number.mask:
        return _up_to_flags(one, loads, quantity)
    if number.encoding != "integer" or number.width >= WIDEST or not 0 <= at < one.kind.length:
        return one
    bits = next((bits for bits in range(7, 0, -1) if _are_filled_below(one, at, bits, fewest)), 0)
    if not bits:
        return one
    wider = replace(
        number, offset=min(at, number.offset), width=number.width + 1, sign=None, signed="twos-complement",
        mask=(1 << 8 * number.width + bits) - 1,
    )  # fmt: skip
    again = fit(one.kind, wider, loads, quantity)
    is_as_good = (
        again is not None
        and again.inside > one.inside - _FEW_LOST
        and again.path < _NO_FURTHER * one.path + 1e-9
    )
    if again is None or not is_as_good or (again.scale, again.zero_kind) != (one.scale, one.zero_kind):
        return one  # a byte that is always filled is none of it
    return again


def _up_to_flags(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in the bits between a number without a sign and the flags above it, which no load has needed."""
    number = one.number
    if number.encoding != "integer" or number.signed or number.sign is not None:
        return one
    raw = replace(number, mask=0).values(one.kind.frames).astype(np.int64)
    first = bits = number.mask.bit_length()
    while bits < 8 * number.width and (raw >> bits & 1).mean() < 1.0 - _ONLY_SIGN:
        bits += 1
    if bits in (first, 8 * number.width):
        return one
    again = fit(one.kind, replace(number, mask=(1 << bits) - 1), loads, quantity)
    return again if again is not None and again.inside >= one.inside - _FEW_LOST else one


def _are_filled_below(one: Fit, at: int, count: int, fewest: int) -> bool:
    """Say whether the lower bits of a byte are ones where the number below it is under nought, else noughts.

    Where all of the byte is filled, it is the number's as a whole.
    """
    number, column = one.number, one.kind.frames[:, at]
    full = (1 << count) - 1
    bits = column & full
    filled = bits == full
    if filled.sum() < fewest or not np.isin(bits, (0, full)).mean() > _ONLY_SIGN:
        return False
    if filled.mean() > _ONLY_SIGN or (column[filled] == 0xFF).mean() > 1.0 - _ONLY_SIGN:
        return False  # what is always filled follows no sign
    raw = replace(number, signed="", sign=None).values(one.kind.frames)
    # A single byte comes near its end at loads above nought as well.
    just_below = (raw >= 2.0 ** (8 * number.width) - _JUST_BELOW) & (number.width > 1)
    upper_half = raw >= 2.0 ** (8 * number.width - 1)
    return bool(
        upper_half[filled].mean() > _FOLLOWS
        and (not just_below.any() or filled[just_below].mean() > _FOLLOWS)
    )


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
    """Take in the lower half of the byte above digits that no load has needed, below a mark, or flags."""
    number, length = one.number, one.kind.length
    first = 1 if one.kind.is_cut else 0  # a header must be left
    reach = (10.0 ** (2 * number.width) - 1.0) / abs(one.per_unit)
    if number.mask or not first <= at < length or number.width >= _WIDEST_DIGITS or reach > _ENOUGH:
        return one
    column = one.kind.frames[:, at]
    if not (column & 0x0F == 0).mean() > _ONLY_SIGN or (column == 0).mean() > _ONLY_SIGN:
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

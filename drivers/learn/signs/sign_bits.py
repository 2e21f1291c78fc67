"""Signs among a number's own bits, and flags that stand above those."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.number import Number, SignPlace

_MOST_FLAGS = 4
"""Bits above a number, in its own highest byte, that may be flags."""

_NEAR_WRAP = 0.05
_NEAR = 0.12
"""Of the span of the loads, how far below nought an empty pan that is left alone may swing."""

_LEAST_MARK = 8
"""What the highest half byte of digits is at least that stands for a minus."""


def with_sign_inside(plain: Number) -> Iterator[Number]:
    """Give a number with each sign that its own bits may be, the customary one first.

    Where flags stand above it, those that are always off may be flags as well: its sign is below them then.
    Or it is above the bits that the loads have needed, which were taken for all: those between are filled
    below nought.
    """
    ways = ("twos-complement", "sign-bit", "") if plain.encoding == "integer" else ("twos-complement", "")
    yield from (replace(plain, signed=signed) for signed in ways)
    if plain.mask:
        bits = plain.mask.bit_length()
        yield from _signed_with(plain, range(8 * plain.width - 1, bits, -1))
        yield from _narrower(plain)


def _narrower(number: Number) -> Iterator[Number]:
    """Give a number with a sign below bits that may be flags, the widest first."""
    bits = number.mask.bit_length() or 8 * number.width
    yield from _signed_with(number, range(bits - 1, 8 * number.width - _MOST_FLAGS - 1, -1))


def _signed_with(number: Number, counts: Iterable[int]) -> Iterator[Number]:
    """Give a number with so many of its bits, the highest of which is its sign."""
    for bits in counts:
        yield replace(number, mask=(1 << bits) - 1, signed="twos-complement")


def below_flags(one: Fit, loads: Sequence[Load], quantity: Quantity, fewest: int) -> Fit:
    """Give a number whose zero seems to be the middle of its range without its top bit, a flag that is set.

    Below zero the bits under the flag are all set then, and the middle would be jumped over.
    """
    fits = [fit(one.kind, number, loads, quantity) for number in _narrower(one.number)]
    best = max((each for each in fits if each is not None), key=lambda each: each.inside, default=one)
    return best if shows_more_below(best, one, fewest) and best.scale == one.scale else one


def shows_more_below(narrower: Fit, one: Fit, fewest: int) -> bool:
    """Say whether packets make sense below nought without the upper bits of a number, and only so.

    What is damaged makes sense without them as well.
    """
    gained = rows_in_place(narrower) & ~rows_in_place(one)
    return bool((gained & _are_below(narrower)).sum() > fewest - 0.5)


def _are_below(one: Fit) -> np.ndarray:
    """Say which packets are below nought: a single one that leaps far below, and back, is damaged."""
    values = one.loads_of(one.number.values(one.kind.frames))
    below = values < -0.5 * one.step
    is_near = values > -(_NEAR * one.span + 4.0 * one.noise_units)
    beside = np.concatenate(([False], below, [False]))
    return below & (is_near | beside[:-2] | beside[2:])


def wraps_near(one: Fit) -> bool:
    """Say whether a signed number would wrap just below its loads: then its zero lies in the middle of its
    range, and it is read without a sign.
    """
    half = 2.0 ** (8 * one.number.width - 1)
    is_nought_near = one.zero_kind in ("odd", "round") and one.zero > (1.0 - _NEAR_WRAP) * half
    return is_nought_near or bool(one.levels.min() < -(1.0 - _NEAR_WRAP) * half)


def below_mark(plain: Number, most: float) -> Number:
    """Give digits below the top bit of their highest byte, which may be their sign where they say enough so.

    :param most: counts that an instrument of this kind must be able to say
    """
    reach = _LEAST_MARK * 10.0 ** (2 * plain.width - 1)
    if plain.encoding != "bcd" or plain.mask or plain.swapped or reach < most:
        return plain
    return replace(plain, mask=(1 << 8 * plain.width - 1) - 1)


def with_mark(one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity, few: float) -> Fit | None:
    """Give digits below a mark in their highest half byte, where some make sense with a minus there only.

    :param few: packets that may be damaged
    """
    if plain.mask or plain.width < 2 or plain.swapped:
        return None
    at = plain.offset if plain.order == "big" else plain.end - 1
    marks = one.kind.frames[:, at] >> 4
    senseless = ~rows_in_place(one) & (marks >= _LEAST_MARK)
    mark = int(np.bincount(marks[senseless], minlength=16).argmax())
    ways = [(0x80, SignPlace(at, 0x80, (1,)))]  # the digit goes on below a bit
    if mark != _LEAST_MARK:
        ways.append((0xF0, SignPlace(at, 0xF0, (mark,), (0,))))
    best, most = None, few
    for bits, sign in ways:
        mask = (1 << 8 * plain.width - bits.bit_count()) - 1
        marked = fit(one.kind, replace(plain, mask=mask, sign=sign), loads, quantity)
        if marked is None or marked.scale != one.scale:
            continue
        shown = int((rows_in_place(marked) & senseless).sum())
        if shown > most:
            best, most = marked, shown
    return best

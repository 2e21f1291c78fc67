"""A highest byte that is no part of a number: nothing needs it, or it is a sign.

Bytes beside a number that have been nought all the time may be its own, or the upper ones of a copy, which
are filled with ones when that is below nought. Where the number has room without them for the heaviest that
is weighed on a table, both ways say the same, and the shorter one is right in either case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS
from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.checks.check import Check
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.packets.arrays import Marks

_HEAVIEST = {"weight": 5000.0, "temperature": 350.0}
"""What no instrument of the kind goes beyond, g or °C."""

_MINUS = (0x01, 0x2D, 0x80, 0xFF)
"""What a byte is that says below nought, where one of nought says above."""

_FEWEST_FILLED, _A_FEW = 8, 3
"""Packets that show upper bytes filled with ones below nought; and as many that hardly show a sign."""

_NEAR, _FAR = 0.12, 0.5
"""Shares of the span of the loads: small, and a jump."""


def without_needless_top(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the highest bytes off a number that has room enough without them, and says the same."""
    while _is_plain(one) and (shorter := _without_top(one.number)) is not None:
        bits = 8 * shorter.width - (shorter.sign is None)
        if 2.0**bits < _HEAVIEST[quantity] * abs(one.per_unit) or not _is_never_needed(one):
            break
        again = fit(one.kind, shorter, loads, quantity)
        if again is None or again.inside < one.inside or again.scale != one.scale:
            break
        one = again
    return one


def with_top_as_sign(one: Fit, check: Check | None, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the highest byte of a number for its sign, where packets in order jump away and back but for that.

    A pan that is tapped shows it in a packet or two. Damage hardly leaves the check right and the rest small.
    """
    shorter = _without_top(one.number)
    if check is None or shorter is None or not _is_plain(one) or one.number.sign is not None:
        return one
    top = one.number.highest_first[0]
    in_order = check.holds(one.kind.frames)
    column = one.kind.frames[:, top]
    odd = np.flatnonzero(in_order & (column != 0))
    codes = np.unique(column[odd])
    if not 0 < odd.size <= _A_FEW or codes.size != 1 or codes[0] not in _MINUS:
        return one
    if not _are_small_but_for_top(one, shorter, odd, in_order):
        return one
    sign = SignPlace(top, 0xFF, (int(codes[0]),), (0,))
    return fit(one.kind, replace(shorter, signed="", sign=sign), loads, quantity) or one


def _is_plain(one: Fit) -> bool:
    number = one.number
    is_whole = number.encoding == "integer" and not number.mask and number.signed != "sign-bit"
    return is_whole and one.zero_kind == "none" and one.scale is not None and number.order in BYTE_ORDERS


def _without_top(number: Number) -> Number | None:
    if number.width < 2:
        return None
    return replace(number, width=number.width - 1, offset=number.offset + (number.order == "big"))


def _is_never_needed(one: Fit) -> bool:
    """Say whether the highest byte is nought where the number is in place, or often filled below nought."""
    top, below = one.number.highest_first[:2]
    frames = one.kind.frames[_in_place(one)]
    is_filled = (frames[:, top] == 0xFF) & (frames[:, below] >= 0x80)
    if one.number.sign is not None and is_filled.any():
        return False
    is_nought = (frames[:, top] == 0x00) & ((frames[:, below] < 0x80) | (one.number.sign is not None))
    return bool((is_nought | is_filled).all() and not 0 < is_filled.sum() < _FEWEST_FILLED)


def _in_place(one: Fit) -> Marks:
    """Say which packets hold something between the loads, or near them."""
    says = one.loads_of(one.number.values(one.kind.frames))
    low, high = np.min(one.loads_of(one.reached)), np.max(one.loads_of(one.reached))
    with np.errstate(invalid="ignore"):
        return np.asarray((says > low - _FAR * one.span) & (says < high + _FAR * one.span))


def _are_small_but_for_top(one: Fit, shorter: Number, odd: np.ndarray, in_order: Marks) -> bool:
    """Say whether a number goes on from packet to packet without its highest byte, and jumps with it."""
    frames = one.kind.frames
    says = one.loads_of(one.number.values(frames))
    sizes = np.abs(one.loads_of(replace(shorter, signed="", sign=None).values(frames)))
    rest = np.flatnonzero(in_order & (frames[:, one.number.highest_first[0]] == 0))
    for row in odd:
        after = np.searchsorted(rest, row)
        beside = says[rest[np.clip([after - 1, after], 0, rest.size - 1)]]
        is_small = sizes[row] <= _NEAR * one.span and (np.abs(beside) <= _NEAR * one.span).all()
        if not is_small or (np.abs(says[row] - beside) < _FAR * one.span).any():
            return False
    return True

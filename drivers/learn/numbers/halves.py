"""Lowest digits of BCD that hardly any packet shows: of a display in steps of a half, or of another byte.

And a byte below whole grams of an integer that goes on with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS
from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.packets.kinds import on_way

_NEARLY_ALL, _FEWEST_MOVES, _WHOLE, _SELDOM = 0.985, 3, 0.99, 0.03
_CLOSELY, _LEFT_OUT, _APART, _FEWEST_LOADS = 0.04, 0.012, 32.0, 4
"""Of a step, how near a line the loads are with a byte below it that another one is not by chance; share of
packets in which damage shows in that; by how many counts it differs from load to load; and how many loads are
no chance."""
_MORE_THAN_DAMAGE = 0.1
"""Share of the packets in which a number moves, of those that have lower digits."""

_NEARBY, _SMOOTHLY = 1000.0, 0.8
"""Hundredths from one packet to the next that are no damage; how much less far such a number goes."""


def are_halves(one: Fit) -> bool:
    """Say whether lowest digits are 00 and 50 only, of a display in steps of a half, and go on with the rest.

    With the two put for each other, such a number goes further up and down; with another byte it does not.
    """
    lowest = one.kind.frames[:, one.number.lowest_at]
    digits = 10 * (lowest >> 4).astype(np.float64) + (lowest & 0x0F)
    if np.isin(digits, (0.0, 50.0)).mean() < _NEARLY_ALL or not (digits == 50.0).any():
        return False
    values = one.number.values(one.kind.frames)
    good = np.isfinite(values) & np.isin(digits, (0.0, 50.0))
    turned = values + 50.0 - 2.0 * digits
    gone, gone_turned = (np.abs(np.diff(some[good])) for some in (values, turned))
    near = (gone < _NEARBY) & (gone_turned < _NEARBY) & (gone + gone_turned > 0.0)
    return bool(near.sum() >= _FEWEST_MOVES and gone[near].sum() < _SMOOTHLY * gone_turned[near].sum())


def has_lower_digits(one: Fit, taken: frozenset[int] = frozenset()) -> bool:
    """Say whether the byte below whole units is digits as well: nought at rest, something else on the way.

    Or halves, at some loads and not at others.

    :param taken: places of its check
    """
    number, frames = one.number, one.kind.frames
    if number.encoding != "bcd" or number.mask or one.scale is None or one.step < _WHOLE:
        return False
    place = number.lowest_at + (1 if number.order == "big" else -1)
    if place in taken or not 0 <= place < one.kind.length:
        return False
    column = frames[:, place]
    rest = np.concatenate(one.kind.settled)
    halves = (column == 0x50).mean()
    if (column == 0x00).mean() + halves > _NEARLY_ALL and _SELDOM < halves < 1.0 - _SELDOM:
        return True
    is_digits = ((column & 0x0F) < 10) & (column < 0xA0)
    if is_digits.mean() <= _NEARLY_ALL or (column[rest] == 0).mean() <= 0.5:
        return False
    # Damage makes digits of a nought in a few packets, whether the number moves in them or not.
    moves = np.diff(number.values(frames), prepend=np.nan) != 0.0
    moves &= is_digits & on_way(one.kind)
    shown = column[moves & (column > 0)]
    return bool(np.unique(shown).size >= _FEWEST_MOVES and shown.size > _MORE_THAN_DAMAGE * moves.sum())


def with_lower_digits(one: Fit, taken: frozenset[int], loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number with the byte below it that goes on with it, as long as it is digits and says the same.

    If that is another one's after all, what is read is off by less than a step of the number without it.

    :param taken: places of its check
    """
    if not has_lower_digits(one, taken):
        return one
    number = one.number
    first = number.offset - (number.order == "little")
    longer = fit(one.kind, replace(number, offset=first, width=number.width + 1), loads, quantity)
    if longer is None or longer.scale is None or longer.inside < one.inside - _LEFT_OUT:
        return one
    return longer if longer.worst < one.worst + 0.5 * one.step else one


def has_lower_byte(one: Fit, loads: Sequence[Load], quantity: Quantity, taken: frozenset[int]) -> bool:
    """Say whether the byte below whole grams may go on with them: the upper bytes of counts look like grams.

    With it, all loads are on a line, though it is another one at each, and on the way it is anything.

    :param taken: places of its check
    """
    number = one.number
    is_whole = (
        number.encoding == "integer" and not number.mask and one.scale is not None and one.step >= _WHOLE
    )
    if not is_whole or number.order not in BYTE_ORDERS or len(loads) < _FEWEST_LOADS:
        return False  # or of words in another order, which go on by words
    place = number.lowest_at + (1 if number.order == "big" else -1)
    if place in taken or not 0 <= place < one.kind.length:
        return False
    longer = replace(number, offset=min(place, number.offset), width=number.width + 1)
    again = fit(one.kind, longer, loads, quantity)
    if again is None or again.scale is not None or again.inside < one.inside - _LEFT_OUT:
        return False
    moving = np.unique(one.kind.frames[on_way(one.kind), place]).size
    is_own = again.worst < _CLOSELY * one.step and moving >= _FEWEST_MOVES
    return bool(is_own and np.ptp(again.levels % 256.0) > _APART)

"""How many bytes a number has, beyond those that the known loads have needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS, WORD_ORDERS
from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.packets.arrays import Floats
from drivers.learn.widths.capacity import (
    COUNTED,
    has_room,
    largest_count,
    most_counts,
    reaches,
    with_room_below,
)
from drivers.learn.widths.orders import CLEAR, left_over
from drivers.learn.widths.upper_bits import with_upper_bits
from drivers.learn.widths.upper_bytes import (
    goes_on_behind,
    is_ever_signed,
    is_lost_by_damage,
    is_own_top,
)
from drivers.learn.widths.words import with_upper_word

_ONLY_SIGN = 0.98
"""Share of packets in which a byte is what it nearly always is: damage makes the others."""

_HARDLY_EVER, _MANY_VALUES = 0.3, 8
"""Share of packets in which a clock or a counter is what it is most often, at most, and the values it has."""

_MOVES = 0.9
"""Share of packets in which a byte that goes up and down with the load is the same, at most."""

_SIGNS = ("", "twos-complement", "sign-bit")
_MOST_DAMAGED = 0.004
"""Share of the packets in which damage makes an upper byte another one."""

_LITTLE_LESS, _SMOOTHER = 0.012, 0.9
"""Share of packets that a wider number may leave out, as damage shows in more bytes; and how far it goes up
and down beside another that is clearly rougher."""

_FAR_ROUGHER = 1.5
"""How much further up and down a number goes with a sign bit that is none: a true one takes it through nought
at times."""

_PLENTY = 4.0
"""Times as much as such an instrument must be able to say, which is more than any weighs on a table."""


def settle_width(
    one: Fit, loads: Sequence[Load], quantity: Quantity, taken: frozenset[int] = frozenset()
) -> Fit:
    """Take in the upper bytes that have not been needed so far, as many as such an instrument needs.

    :param taken: places that belong to a check
    """
    number = one.number
    if number.encoding == "ascii":
        return _widest_text(one, loads, quantity)
    if number.encoding not in COUNTED or number.mask or one.zero_kind == "half":
        return one
    if (both := with_upper_word(one, loads, quantity)) is not one:
        return both
    one = with_room_below(one, loads, quantity)
    enough = most_counts(one, loads, quantity)
    found = [_wide_enough(way, enough, loads, quantity, taken) for way in _both_orders(one, taken)]
    for each in found if one.number.width == 1 else ():
        if (below := with_upper_bits(_alone(each, one), loads, quantity)).number.mask:
            return below
    likeliest, *others = found
    for each in others:
        room, its_room = (min(largest_count(some.number), enough) for some in (likeliest, each))
        is_smoother = its_room >= room and each.path < _SMOOTHER * likeliest.path
        if is_smoother or (its_room, each.inside) > (room, likeliest.inside + _LITTLE_LESS):
            likeliest = each
    return likeliest


def _both_orders(one: Fit, taken: frozenset[int]) -> list[Fit]:
    """Give a single byte as either end of a wider number: alone, it has no order."""
    if one.number.width > 1:
        return [one]
    orders = sorted(BYTE_ORDERS, key=lambda order: left_over(one, order, taken))
    return [replace(one, number=replace(one.number, order=order)) for order in orders]


def _alone(each: Fit, one: Fit) -> Fit:
    """Give a single byte with the order that it has where it goes on."""
    return replace(one, number=replace(one.number, order=each.number.order))


def _wide_enough(
    one: Fit, enough: float, loads: Sequence[Load], quantity: Quantity, taken: frozenset[int]
) -> Fit:
    wider = [one, *_wider(one, one.number.values(one.kind.frames), loads, quantity)]
    # A sign that stands above it is the same one each time that it is set, and damage is not.
    wider = [each for each in wider if not each.number.covers & taken and is_lost_by_damage(one, each)]
    reaching = [each for each in wider if reaches(each) >= enough] or wider[-1:]
    likeliest, *wider = reaching
    signed = (fit(one.kind, replace(likeliest.number, signed=sign), loads, quantity) for sign in _SIGNS)
    # Its own sign may be all that is set above it.
    ways = [each for each in signed if each is not None] if wider else []
    most = max(ways, key=lambda each: each.inside, default=likeliest)
    for each in wider:
        if not is_own_top(each):
            break
        if each.inside < most.inside - _MOST_DAMAGED and not is_lost_by_damage(most, each):
            break
        plenty = 1.0 if goes_on_behind(each) else _PLENTY
        if reaches(likeliest) >= plenty * enough and not is_ever_signed(each):
            break
        likeliest = each
    return likeliest


def is_closed(one: Fit) -> bool:
    """Say whether the byte above a number is none of its own: its sign, or one with lower bits that stay."""
    number, frames = one.number, one.kind.frames
    if number.width < 2 or number.mask or number.encoding not in COUNTED or one.scale is None:
        return False
    at = number.above_at
    if not 0 <= at < one.kind.length:
        return not one.kind.is_cut
    column = frames[:, at]
    usual = int(np.bincount(column).argmax())
    if number.sign is not None and number.sign.offset == at:
        return bool(np.isin(column, (0x00, 0xFF)).mean() > _ONLY_SIGN)
    share = float((column == usual).mean())
    if share < _HARDLY_EVER and np.unique(column).size > _MANY_VALUES:
        return True  # a clock, a counter
    return usual & 0x0F not in (0x00, 0x0F) and share > _ONLY_SIGN


def may_go_on(one: Fit, taken: frozenset[int] = frozenset()) -> bool:
    """Say whether the byte above an integer has always been the same, and may be its own.

    :param taken: places of its check
    """
    number = one.number
    at = number.above_at
    first = 2 if one.kind.is_cut else 1  # in a stream, something must tell where a frame begins
    if number.encoding != "integer" or number.width > 2 or at in taken or not first <= at < one.kind.length:
        return False
    column = one.kind.frames[:, at]
    return bool(np.bincount(column).max() > _ONLY_SIGN * column.size)


def is_order_open(one: Fit, taken: frozenset[int] = frozenset()) -> bool:
    """Say whether the upper byte may as well stand on the other side: none has been needed so far.

    :param taken: places that belong to a check
    """
    number, frames = one.number, one.kind.frames
    if (
        number.encoding not in ("integer", "bcd")
        or number.mask
        or number.width < 2
        or number.order in WORD_ORDERS
        or one.zero_kind == "half"
    ):
        return False
    lowest = number.lowest_at
    upper = sorted(number.covers - {lowest})
    is_read = rows_in_place(one)  # what is no digit has not been needed, nor what says no load
    if (frames[:, upper] != 0).any(axis=1)[is_read].sum() >= 3:
        return False
    other = lowest + 1 if number.order == "big" else lowest - 1
    is_sign = number.sign is not None and number.sign.offset == other
    if not 0 <= other < one.kind.length or other in taken or is_sign:
        return False
    # Of twelve bits, the upper four may stand below flags.
    if not (frames[:, other] & 0x0F == 0).mean() > 0.99:
        return False
    if (frames[:, other] == 0).mean() < 1.0 - _ONLY_SIGN and np.bincount(frames[:, other]).max() > (
        _ONLY_SIGN * len(frames)
    ):
        return True  # flags that stay as they are
    turned = "little" if number.order == "big" else "big"
    return left_over(one, turned, taken) < left_over(one, number.order, taken) + CLEAR


def _wider(one: Fit, values: Floats, loads: Sequence[Load], quantity: Quantity) -> list[Fit]:
    """Give the same number with more upper bytes, as long as it says the same."""
    found: list[Fit] = []
    number, frames = one.number, one.kind.frames
    widest = {"integer": 4, "bcd": 5, "digits": 8, "hex": 8}[number.encoding]
    for width in range(number.width + 1, widest + 1):
        offset = number.end - width if number.order == "big" else number.offset
        if offset < 0 or offset + width > one.kind.length:
            break
        added = offset if number.order == "big" else offset + width - 1
        plain = replace(number, offset=offset, width=width, signed="")
        half = fit(one.kind, plain, loads, quantity) if number.encoding == "integer" else None
        if (
            half is not None
            and half.zero_kind == "half"
            and half.scale == one.scale
            and half.inside >= one.inside - _LITTLE_LESS
        ):
            return [*found, half]
        usual = int(np.bincount(frames[:, added]).argmax())
        moves = one.scale is None and np.bincount(frames[:, added]).max() < _MOVES * len(frames)
        if usual not in _upper_bytes(one) and not moves and has_room(found[-1] if found else one):
            break
        same = []
        others = {"integer": ("", "twos-complement", "sign-bit"), "hex": ("twos-complement",)}
        signs = (number.signed, *others.get(number.encoding, ()))
        for signed in dict.fromkeys(signs):
            candidate = replace(number, offset=offset, width=width, signed=signed)
            close = _same(candidate.values(frames), values, signed, one)
            again = fit(one.kind, candidate, loads, quantity)
            if close.mean() > 0.97 and again is not None and again.inside >= one.inside - _LITTLE_LESS:
                same += [again] if not _is_rougher(again, one) else []
        if not same:
            break
        found.append(max(same, key=lambda each: each.inside))
    return found


def _is_rougher(wider: Fit, one: Fit) -> bool:
    """Say whether a number goes far further up and down with a sign: that is a flag of motion, or of rest."""
    return wider.number.signed == "sign-bit" and wider.path > _FAR_ROUGHER * max(one.path, 1.0)


def _upper_bytes(one: Fit) -> tuple[int, ...]:
    """Give what an upper byte may be that nothing has needed yet."""
    if one.number.encoding == "hex":
        return (0x30,)
    if one.number.encoding != "integer":
        return (0,)
    # Bare counts may begin at the middle of their range.
    return (0, 0xFF) if one.scale is not None else (0, 0xFF, 0x7F, 0x80)


def _same(wider: Floats, values: Floats, signed: str, one: Fit) -> np.ndarray:
    """Say where two readings are the same, but for a sign that only one has, or for a fixed distance."""
    if signed == "sign-bit" and one.scale is not None:
        return np.isclose(np.abs(wider), np.abs(values), atol=0.01, equal_nan=True)
    if not np.isfinite(wider - values).any():
        return np.zeros(values.shape, dtype=bool)
    shift = float(np.nanmedian(wider - values)) if one.scale is None else 0.0
    same = np.isclose(wider - shift, values, atol=0.01, equal_nan=True)
    if signed == "twos-complement" and one.number.encoding == "integer" and not one.number.signed:
        # Without a sign, what is below nought wraps; in place or not, that is told by the fit.
        same |= np.isclose(wider, values - 2.0 ** (8 * one.number.width), atol=0.01)
    return same


def _widest_text(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take in blanks, signs and noughts before a number of text."""
    best, number, frames = one, one.number, one.kind.frames
    values = number.values(frames)
    first = 1 if one.kind.is_cut and not one.kind.terminator else 0  # a header must be left
    for offset in range(number.offset - 1, max(number.offset - 12, first - 1), -1):
        sign = None if number.sign is not None and number.sign.offset >= offset else number.sign
        candidate = replace(number, offset=offset, width=number.end - offset, sign=sign)
        if candidate.width > 24:
            break
        wider = candidate.values(frames)
        if not np.isclose(wider, values, atol=1e-9, equal_nan=True).mean() > 0.97:
            negative = np.isclose(wider, -values, atol=1e-9) | np.isclose(wider, values, atol=1e-9)
            if not negative.mean() > 0.97:
                break
        again = fit(one.kind, candidate, loads, quantity)
        if again is None or again.inside < best.inside - _LITTLE_LESS:
            break
        best = again
    return best

"""How many bytes a number has, beyond those that the known loads have needed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS, WORD_ORDERS
from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Floats
from drivers.learn.widths.orders import CLEAR, left_over
from drivers.learn.widths.upper_bits import with_upper_bits
from drivers.learn.widths.upper_bytes import is_ever_signed, is_own_top

_ONLY_SIGN, _FEWEST_FILLED = 0.98, 3
_HARDLY_EVER, _MANY_VALUES = 0.3, 8
_MOVES = 0.9
"""Share of packets in which a byte that goes up and down with the load is the same, at most."""

_SIGNS = ("", "twos-complement", "sign-bit")
_MOST_DAMAGED = 0.004
"""Share of the packets in which damage makes an upper byte another one."""

_LITTLE_LESS, _SMOOTHER = 0.012, 0.9

_PLENTY = 4.0
"""Times as much as such an instrument must be able to say, which is more than any weighs on a table."""

LEAST_G = 999.0
"""What any scale can weigh, g: four digits of tenths, and no less."""

_BITS_OF = {"integer": 8, "bcd": 8, "digits": 8, "hex": 8}


def most_counts(one: Fit, loads: Sequence[Load], quantity: Quantity) -> float:
    """Give how many counts an instrument of this kind must be able to say."""
    most = max(abs(load.value) for load in loads)
    reach = max(1.5 * most, 3000.0) if quantity == "weight" else max(2.0 * most, 350.0)
    return reach * abs(one.per_unit) + abs(one.zero if one.zero_kind != "half" else 0.0)


def settle_width(
    one: Fit, loads: Sequence[Load], quantity: Quantity, taken: frozenset[int] = frozenset()
) -> Fit:
    """Take in the upper bytes that have not been needed so far, as many as such an instrument needs.

    :param taken: places that belong to a check
    """
    number = one.number
    if number.encoding == "ascii":
        return _widest_text(one, loads, quantity)
    if number.encoding not in _BITS_OF or number.mask or one.zero_kind == "half":
        return one
    one = _with_room_below(one, loads, quantity)
    enough = most_counts(one, loads, quantity)
    found = [_wide_enough(way, enough, loads, quantity, taken) for way in _both_orders(one)]
    for each in found if one.number.width == 1 else ():
        if (below := with_upper_bits(_alone(each, one), loads, quantity)).number.mask:
            return below
    likeliest, *others = found
    for each in others:
        room, its_room = (min(_holds(some.number), enough) for some in (likeliest, each))
        is_smoother = its_room >= room and each.path < _SMOOTHER * likeliest.path
        if is_smoother or (its_room, each.inside) > (room, likeliest.inside + _LITTLE_LESS):
            likeliest = each
    return likeliest


def _both_orders(one: Fit) -> list[Fit]:
    """Give a single byte as either end of a wider number: alone, it has no order."""
    if one.number.width > 1:
        return [one]
    orders = sorted(BYTE_ORDERS, key=lambda order: left_over(one, order))
    return [replace(one, number=replace(one.number, order=order)) for order in orders]


def _alone(each: Fit, one: Fit) -> Fit:
    """Give a single byte with the order that it has where it goes on."""
    return replace(one, number=replace(one.number, order=each.number.order))


def _wide_enough(
    one: Fit, enough: float, loads: Sequence[Load], quantity: Quantity, taken: frozenset[int]
) -> Fit:
    wider = [one, *_wider(one, one.number.values(one.kind.frames), loads, quantity)]
    wider = [each for each in wider if not each.number.covers & taken]
    reaching = [each for each in wider if _reaches(each) >= enough] or wider[-1:]
    likeliest, *wider = reaching
    signed = (fit(one.kind, replace(likeliest.number, signed=sign), loads, quantity) for sign in _SIGNS)
    # Its own sign may be all that is set above it.
    least = max((each.inside for each in signed if each is not None), default=0.0) if wider else 0.0
    for each in wider:
        if not is_own_top(each) or each.inside < least - _MOST_DAMAGED:
            break
        if _reaches(likeliest) >= _PLENTY * enough and not is_ever_signed(each):
            break
        likeliest = each
    return likeliest


def capacity(one: Fit) -> float:
    """Give the largest load that the chosen number has room for, g or °C; infinite for text and floats."""
    number = one.number
    if number.encoding not in _BITS_OF:
        return math.inf
    least, most = 0.0, _holds(number)
    if number.encoding == "integer":
        bits = number.mask.bit_length() if number.mask else 8 * number.width
        least, most = (-(2.0 ** (bits - 1)), 2.0 ** (bits - 1)) if number.signed else (0.0, 2.0**bits)
    return (most - one.zero if one.per_unit > 0 else one.zero - least) / abs(one.per_unit)


def has_room(one: Fit) -> bool:
    """Say whether bare counts have room for what any scale can weigh: else they go on, whatever is there."""
    return one.scale is not None or one.zero_kind != "odd" or capacity(one) >= LEAST_G


def with_room(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take the sign off bare counts that have no room for a heavy load with it: they begin anywhere."""
    number = one.number
    if number.encoding != "integer" or not number.signed or number.mask or has_room(one):
        return one
    bare = fit(one.kind, replace(number, signed="", sign=None), loads, quantity)
    if bare is None or bare.inside < one.inside - 1e-9 or not has_room(bare):
        return one
    return bare


def _with_room_below(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take bare counts without room for a heavy load as counts below nought, where they have it so."""
    number = one.number
    if number.encoding != "integer" or number.signed or number.mask or has_room(one):
        return one
    signed = fit(one.kind, replace(number, signed="twos-complement"), loads, quantity)
    if signed is None or signed.inside < one.inside - 1e-9 or not has_room(signed):
        return one
    return signed


def is_closed(one: Fit) -> bool:
    """Say whether the byte above a number is none of its own: its sign, or one with lower bits that stay."""
    number, frames = one.number, one.kind.frames
    if number.width < 2 or number.mask or number.encoding not in _BITS_OF or one.scale is None:
        return False
    at = number.offset - 1 if number.order == "big" else number.end
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
    at = number.offset - 1 if number.order == "big" else number.end
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
    return left_over(one, turned) < left_over(one, number.order) + CLEAR


def _holds(number: Number) -> float:
    if number.encoding in ("bcd", "digits"):
        return 10.0 ** (number.width * (2 if number.encoding == "bcd" else 1)) - 1
    if number.encoding == "hex":
        return 16.0**number.width / 2
    return 2.0 ** (8 * number.width - 1)


def _reaches(one: Fit) -> float:
    """Give how far a number counts: to the end of its range, where its nought is near the middle of that."""
    number = one.number
    if number.encoding == "integer" and not number.signed and one.zero > 2.0 ** (8 * number.width - 2):
        return 2.0 ** (8 * number.width)
    return _holds(number)


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
                same.append(again)
        if not same:
            break
        found.append(max(same, key=lambda each: each.inside))
    return found


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

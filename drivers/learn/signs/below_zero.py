"""How a number says that it is below zero: by its own bits, or by a byte that stands apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeGuard

import numpy as np
from numpy.typing import NDArray

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.checks.check import Check, covers_in_part
from drivers.learn.numbers.fitting import Fit, fit, in_reach, rows_in_place
from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Marks
from drivers.learn.packets.kinds import fixed_bytes
from drivers.learn.signs.apart_signs import sign_apart
from drivers.learn.signs.dips import Reflections
from drivers.learn.signs.rare_signs import is_in_order, rare_sign, written_sign
from drivers.learn.signs.sign_bits import (
    below_flags,
    below_mark,
    shows_more_below,
    with_mark,
    with_sign_inside,
    wraps_near,
)
from drivers.learn.widths.capacity import LARGE_G, capacity, most_counts
from drivers.learn.widths.upper_bits import with_its_sign_bit

_FEWEST, _SIGNED = 2, 0.01

_FAR_ABOVE = 2.0
"""Times the lesser one of those beside a number that this is at most where none has gone through nought."""

_FEW_GAINED, _ONE_GAINED, _FAR_MORE, _MANY, _MANY_IN_ORDER = 4.5, 1.5, 4.0, 8, 2
"""Packets that may be damaged ones, all told and where a check is right; by how much more others must be; and
how many, of all and of those in order.
"""


def settle_sign(
    one: Fit, loads: Sequence[Load], quantity: Quantity, fewest: int = _FEWEST,
    taken: frozenset[int] = frozenset(),
) -> Fit:  # fmt: skip
    """Find the sign of the chosen number; where it has never been below zero, take the customary one.

    :param fewest: packets that show a sign; one will do where none is damaged
    :param taken: places that belong to a check
    """
    number = one.number
    if number.encoding in ("float", "ascii") and has_own_sign(one, fewest):
        return one
    if one.zero_kind == "half":
        return below_flags(one, loads, quantity, fewest)
    one = _without_false_sign(one, loads, quantity)
    number = one.number
    plain = replace(number, signed="", sign=None)
    written = written_sign(plain, one, loads)
    if written is not None and written.is_negative(one.kind.frames).sum() >= fewest:
        apart = fit(one.kind, replace(plain, sign=written), loads, quantity)
    else:
        apart = sign_apart(one, plain, loads, quantity, fewest, taken)
    few = _ONE_GAINED if fewest == 1 else _FEW_GAINED
    rare, below = None, below_mark(plain, most_counts(one, loads, quantity))
    if apart is None and not has_been_negative(replace(one, number=replace(number, sign=None)), fewest):
        rare = rare_sign(replace(one, number=below), taken, is_clean=fewest == 1) or written
    if number.encoding in ("integer", "hex"):
        best, gained = _with_own_bits(one, plain, loads, quantity, fewest)
        stands_apart = gained < few and (rare is not None or _is_seen_apart(apart, gained, fewest))
        if best is not None and gained > fewest - 0.5 and not stands_apart:
            return best
    marked = with_mark(one, plain, loads, quantity, few) if number.encoding == "bcd" else None
    if marked is not None:
        return marked
    if apart is not None:
        return apart
    if rare is not None:
        signed = replace(below if rare.offset in plain.covers else plain, sign=rare)
        return fit(one.kind, signed, loads, quantity) or one
    return _with_usual_sign(one, plain, loads, quantity)


def _with_usual_sign(one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number that no packet has shown the sign of the customary one, where as many make sense so."""
    shown_none = one.number.signed in ("", "sign-bit") and one.zero_kind != "half"
    if one.number.encoding not in ("integer", "hex") or not shown_none:
        return one
    usual = fit(one.kind, replace(plain, signed="twos-complement"), loads, quantity)
    if usual is not None and plain.width == 1 and quantity == "weight" and capacity(usual) < LARGE_G:
        return one  # a byte in coarse steps is enough for a kitchen's loads only without a sign
    if usual is None or wraps_near(usual) or _count_in_place(usual) < _count_in_place(one):
        return one
    return usual


def _without_false_sign(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Take a sign bit of bare counts for two's complement, and that for none where the number wraps near
    nought, as far as they explain as much.
    """
    number = one.number
    if one.scale is None and number.signed == "sign-bit" and not number.mask:
        twos = fit(one.kind, replace(number, signed="twos-complement"), loads, quantity)
        one = twos if _explains_as_much(twos, one) else one
    if one.number.signed == "twos-complement" and wraps_near(one):
        bare = fit(one.kind, replace(one.number, signed=""), loads, quantity)
        one = bare if _explains_as_much(bare, one) else one
    return one


def _explains_as_much(other: Fit | None, one: Fit) -> TypeGuard[Fit]:
    """Say whether as many packets make sense with another number as with one."""
    return other is not None and other.inside >= one.inside - 1e-9


def _with_own_bits(
    one: Fit, plain: Number, loads: Sequence[Load], quantity: Quantity, fewest: int
) -> tuple[Fit | None, float]:
    """Give the number with a sign among its own bits, and how many packets more make sense so.

    :param plain: the number without a sign
    """
    inner = (fit(one.kind, each, loads, quantity) for each in with_sign_inside(plain))
    fits = [
        each
        for each in inner
        if each is not None and (each.number.mask == plain.mask or shows_more_below(each, one, fewest))
    ]
    if not fits:
        return None, 0.0
    counts = {id(each): _count_in_place(each) for each in fits}
    best = max(fits, key=lambda each: counts[id(each)] + 0.5 * (each.number.signed == one.number.signed))
    most = counts[id(best)]
    least = min((counts[id(each)] for each in fits if each.number.mask == plain.mask), default=most)
    gained = float(most - least)
    twos = next((each for each in fits if each.number.signed == "twos-complement"), best)
    if fewest == 1 and gained < 0.5 and (told := _told_by_leap(fits, one)) is not None:
        return told, 1.0
    return (twos if counts[id(twos)] >= most and not wraps_near(twos) else best), gained


def _count_in_place(one: Fit) -> int:
    """Count the packets in which a number is in place, but for those that damage has turned the sign of."""
    return int((rows_in_place(one) & ~_has_turned_sign(one)).sum())


def _has_turned_sign(one: Fit) -> Marks:
    """Say in which packets damage has turned a sign bit: the size of the number goes on with those beside it,
    and with the sign it leaps.
    """
    if one.number.signed != "sign-bit":
        return np.zeros(len(one.kind.frames), dtype=bool)
    says = one.loads_of(one.number.values(one.kind.frames))
    beside = np.sort(np.stack((np.roll(says, 1), np.roll(says, -1))), axis=0)
    near = 2.0 * one.step + 4.0 * one.noise_units
    with np.errstate(invalid="ignore"):
        goes_on = (-says >= beside[0] - near) & (-says <= beside[1] + near)
        is_over_nought = -says < _FAR_ABOVE * beside[0]  # a pan that comes to rest swings below it
        return np.asarray(goes_on & is_over_nought & (says < beside[0] - 2.0 * near))


def _told_by_leap(fits: Sequence[Fit], one: Fit) -> Fit | None:
    """Give the number with the one sign by which no packet in order leaps out of reach.

    A pan that is touched is far from its load, with whatever sign. What is damaged and passes a check has
    other bytes in disorder as well: a check of one byte sees each single one that is changed.

    :param fits: the number with each sign, in undamaged packets
    """
    frames = one.kind.frames
    beyond = [~in_reach(each.number.values(frames), each.reached, each.noise) for each in fits]
    within = [each for each, leaps in zip(fits, beyond, strict=True) if not leaps.any()]
    leaping = np.flatnonzero(np.any(beyond, axis=0))
    if len(within) != 1 or _has_turned_sign(within[0])[leaping].any():
        return None
    is_order = all(is_in_order(one, int(row), one.number.offset) for row in leaping)
    return within[0] if is_order else None


def _is_seen_apart(apart: Fit | None, gained: float, fewest: int) -> bool:
    """Say whether far more packets show a sign that stands apart than one among the number's own bits.

    A few damaged packets make sense with any sign.

    :param gained: packets that make sense with a sign among its own bits alone
    """
    if apart is None or apart.number.sign is None:
        return False
    minus = apart.number.sign.is_negative(apart.kind.frames)
    size = np.abs(apart.loads_of(apart.number.values(apart.kind.frames)))
    with np.errstate(invalid="ignore"):
        is_near = size < 0.12 * apart.span
        # What is lifted off goes far below, and through nought on its way there and back.
        is_seen = minus & (size > 0.5 * apart.step) & (is_near | Reflections(size, apart).are_clear(minus))
    below, many = int(is_seen.sum()), _MANY if fewest > 1 else _MANY_IN_ORDER
    return bool(below >= 0.9 * minus.sum() and below > max(_FAR_MORE * gained, many))


def has_own_sign(one: Fit, fewest: int = _FEWEST) -> bool:
    """Say whether a text or a float has a sign of its own; both have a place for one, but it may stand apart.

    :param fewest: packets with a sign in place that show one, however seldom; 1 where none is damaged
    """
    if one.number.encoding == "float":
        return has_been_negative(replace(one, number=replace(one.number, sign=None)), fewest)
    part = one.kind.frames[:, one.number.offset : one.number.end]
    signed = np.isin(part, tuple(b"+-")).any(axis=1)
    return bool(signed.mean() > _SIGNED or (signed & rows_in_place(one)).sum() > fewest)


def undamaged(
    one: Fit, check: Check | None, header: Sequence[int | None], loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in the packets that are in order; None where that cannot be known.

    :param check: of the packets, where they have one
    :param header: what they begin with
    """
    if check is None:
        return None
    good = check.holds(one.kind.frames)
    if covers_in_part(check, one.kind.frames, one.number.covers):
        good &= rows_in_place(one)  # it lets pass what is damaged in the rest
    fixed = {place: byte for place, byte in enumerate(header) if byte is not None}
    sign = one.number.sign
    covered = {*range(check.start, check.stop), *check.places, *([sign.offset] if sign is not None else [])}
    # What the check does not cover is damaged unseen, but where it is always the same; a sign nearly is.
    fixed |= {
        place: byte for place, byte in enumerate(fixed_bytes(one.kind.frames))
        if byte is not None and place not in covered
    }  # fmt: skip
    for place, byte in fixed.items():
        column = one.kind.frames[:, place]
        good &= (column == byte) | (_is_upper_below(column, byte) & (place >= len(header)))
    kind = replace(
        one.kind, frames=one.kind.frames[good], time_s=one.kind.time_s[good], begins=None
    ).seen_with(loads)
    return fit(kind, one.number, loads, quantity) if kind is not None else None


def _is_upper_below(column: NDArray[np.uint8], usual: int) -> NDArray[np.bool_]:
    """Say which bytes, nought as a rule, are what the upper byte of another number is below nought."""
    return np.asarray((usual == 0x00) & (column == 0xFF))


def settle_sign_again(
    one: Fit, check: Check | None, header: Sequence[int | None], loads: Sequence[Load], quantity: Quantity
) -> Fit:
    """Look at the sign again in the packets that are in order: there a single one tells."""
    clean = undamaged(one, check, header, loads, quantity)
    if clean is None or check is None:
        return one
    bare = fit(clean.kind, replace(clean.number, sign=None), loads, quantity) or clean
    signed = settle_sign(bare, loads, quantity, fewest=1, taken=check.places)
    number = with_its_sign_bit(signed, loads, quantity).number  # no damaged packet keeps it from that here
    return one if number == one.number else fit(one.kind, number, loads, quantity) or one


def has_been_negative(one: Fit, fewest: int = _FEWEST) -> bool:
    """Say whether the chosen number has ever been below zero.

    :param fewest: packets that show it
    """
    values = one.number.values(one.kind.frames)
    with np.errstate(invalid="ignore"):
        return int((values < one.zero - 0.5 * max(one.grid, 1e-9)).sum()) >= fewest

"""Signs that hardly any packet shows: the pan was a step or so below nought once or twice, and no load was.

A byte beside a number that is another one in those packets, and never where the number is nought or large, is
its sign; and so are the bits above digits in their own highest byte. What is damaged differs from packet to
packet, and is anything.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.neighbours import beside
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.signs.sign_places import goes_on_slowly, times_set
from drivers.learn.signs.signs_of_copies import Copies

_SMALL, _NOISY = 3.5, 3.0
"""Steps below nought, and noise in steps, up to which a pan that is empty is a step or so below."""

_FEWEST_TIMES, _MOST_CODES, _FEW_SMALL = 2, 8, 0.1
"""How often a flag must come and go, and how many codes a byte of flags has at most; and the share of packets
near nought, and not at it, of which a flag that comes once is one by chance."""

_ON_STEP = 0.25
"""Steps by which a number is off its steps at most: what a damaged packet says is any."""

_PLUS, _MINUS, _BLANK, _FILLED, _OF_TEXT = 0x2B, 0x2D, 0x20, 0xFF, tuple(b"0123456789 .")
_SEEN, _USUAL, _MOST_STATES = 3, 0.95, 200
"""Packets in which a byte is something that it may well be; share of all in which it is as usual; how many
things a byte is that tells, and is no counter.
"""


def rare_sign(one: Fit, taken: frozenset[int] = frozenset(), *, is_clean: bool = False) -> SignPlace | None:
    """Find the sign of a number without one that some packets near nought show, or a single one.

    :param taken: places that belong to a check
    :param is_clean: whether none of the packets is damaged
    :returns: None where nothing shows it
    """
    number, frames = one.number, one.kind.frames
    if number.encoding not in ("integer", "bcd", "digits", "ascii") or number.sign is not None:
        return None
    if number.mask and number.encoding != "bcd":
        return None
    if one.zero_kind != "none" or one.noise_units > _NOISY * one.step:
        return None
    steps = np.abs(one.loads_of(number.values(frames))) / one.step
    with np.errstate(invalid="ignore"):
        is_small = (steps > 0.5) & (steps < _SMALL)
    first = {0} if one.kind.is_cut else set()  # where a frame begins
    above_digits = {at for at in number.covers if number.own_bits(at) != _FILLED}
    near = (beside(number, frames) - number.covers | above_digits) - taken - first
    if (sign := _sign_near(one, near, is_small, taken, fewest=2)) is not None:
        return sign
    elsewhere = sorted(set(range(one.kind.length)) - near - taken - number.covers - first)
    for place in elsewhere:
        if (sign := _written_minus(one, place, is_small, taken)) is not None:
            return sign
    if (flag := _flag_of(one, elsewhere, is_small, taken, is_clean=is_clean)) is not None:
        return flag
    with np.errstate(invalid="ignore"):
        is_small &= np.abs(steps - np.round(steps)) < _ON_STEP
    return _sign_near(one, near, is_small, taken, fewest=1)


def _sign_near(
    one: Fit, near: frozenset[int], is_small: NDArray[np.bool_], taken: frozenset[int], *, fewest: int
) -> SignPlace | None:
    """Find a byte beside the number, or bits above its digits, that tell small numbers below nought.

    :param fewest: packets in order that show it
    """
    number, frames = one.number, one.kind.frames
    for place in sorted(near):
        not_own = _FILLED ^ number.own_bits(place)
        column = frames[:, place] & np.uint8(not_own)
        if goes_on_slowly(column):
            continue
        tally = np.bincount(column, minlength=256)
        usual = int(tally.argmax())
        if tally[usual] < _USUAL * column.size:
            continue
        for code in np.unique(column[is_small & (column != usual)]).tolist():
            rows = np.flatnonzero(column == code)
            if _show_sign(one, place, rows, is_small, int(code) ^ usual, taken, fewest):
                return _place_of(place, usual, int(code), not_own)
    return None


def _written_minus(
    one: Fit, place: int, is_small: NDArray[np.bool_], taken: frozenset[int]
) -> SignPlace | None:
    """Find a minus that stands now and then where else a plus or a blank does: damage hardly writes one."""
    column = one.kind.frames[:, place]
    usual = int(np.bincount(column).argmax())
    rows = np.flatnonzero(column == _MINUS)
    if usual not in (_PLUS, _BLANK) or not rows.size or not is_small[rows].all():
        return None
    is_seen = all(is_in_order(one, int(row), place, taken) for row in rows)
    return SignPlace(place, 0xFF, (_MINUS,), (usual,)) if is_seen else None


def is_written(sign: SignPlace) -> bool:
    """Say whether a sign is written, as a plus and a minus."""
    return (sign.mask, sign.negative, sign.positive) == (_FILLED, (_MINUS,), (_PLUS,))


def written_sign(number: Number, one: Fit, loads: Sequence[Load]) -> SignPlace | None:
    """Find the written sign beside a number: a plus at loads, a minus at noughts as well, or never yet."""
    if number.encoding not in ("bcd", "digits", "integer", "ascii"):
        return None
    frames = one.kind.frames
    above = [rows for rows, load in zip(one.kind.settled, loads, strict=True) if load.value > one.step]
    rests = np.concatenate(above) if above else np.arange(len(frames))
    for place in sorted(beside(number, frames) - number.covers):
        are_signs = np.isin(frames[:, place], (_PLUS, _MINUS)).mean() >= _USUAL
        if not are_signs or (frames[rests, place] == _PLUS).mean() < _USUAL:
            continue
        text = frames[:, place + 1 : place + 2] if place >= number.end else frames[:, :0]
        if (
            not text.size or np.isin(text, _OF_TEXT).mean() < _USUAL
        ):  # else it is the plus of a text behind it
            return SignPlace(place, 0xFF, (_MINUS,), (_PLUS,))
    return None


def _flag_of(
    one: Fit, places: list[int], is_small: NDArray[np.bool_], taken: frozenset[int], *, is_clean: bool
) -> SignPlace | None:
    """Find a flag that tells what is below nought: once, where none is damaged and few are near nought."""
    frames, copies = one.kind.frames, Copies(one, one.number, taken)
    for fewest in (_FEWEST_TIMES, 1) if is_clean and is_small.mean() < _FEW_SMALL else (_FEWEST_TIMES,):
        for place in places:
            sign = _flag(frames[:, place], place, is_small, fewest)
            if fewest == 1 and not _holds_flags(frames[:, place]):
                continue
            if sign is None or copies.have_end_at(place, sign.is_negative(frames)):
                continue
            if (is_clean and fewest > 1) or _is_shown_in_order(one, sign, taken):
                return sign
    return None


def _holds_flags(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte is known to hold flags: another one has come and gone, or none is set as a rule.

    Else it is a charge, or anything that stays, and damage that a check lets pass turns a bit now and then.
    """
    often = np.flatnonzero(np.bincount(column) >= _SEEN)
    return bool(often.size > 1 or (often == 0).all())


def _flag(
    column: NDArray[np.uint8], place: int, is_small: NDArray[np.bool_], fewest: int
) -> SignPlace | None:
    """Find a bit of a byte of flags that is another one near nought only, and never at nought.

    :param fewest: how often it must come
    """
    tally = np.bincount(column, minlength=256)
    if np.sort(tally)[-_MOST_CODES:].sum() < column.size or goes_on_slowly(column):
        return None  # a clock, a counter
    for bit in range(8):
        bits = (column >> bit & 1).astype(bool)
        other = bits != (bits.mean() > 0.5)
        if times_set(other) >= fewest and is_small[other].all():
            return SignPlace(place, 1 << bit, (int(not (bits.mean() > 0.5)),))
    return None


def _is_shown_in_order(one: Fit, sign: SignPlace, taken: frozenset[int]) -> bool:
    """Say whether packets with a sign are in order else: damage hardly turns one bit twice, and no more."""
    return all(
        is_in_order(one, int(row), sign.offset, taken)
        for row in np.flatnonzero(sign.is_negative(one.kind.frames))
    )


def _show_sign(
    one: Fit, place: int, rows: NDArray[np.int64], is_small: NDArray[np.bool_], differs: int,
    taken: frozenset[int], fewest: int,
) -> bool:  # fmt: skip
    """Say whether packets with a sign are in order else; a single one shows no more than a single bit.

    Beside those that are, as many that are not are damaged ones.
    """
    in_order = np.array([is_in_order(one, int(row), place, taken) for row in rows])
    if 2 * in_order.sum() < rows.size or not is_small[rows[in_order]].all():
        return False
    return bool(in_order.sum() > 1 or (fewest == 1 and in_order.any() and differs.bit_count() == 1))


def is_in_order(one: Fit, row: int, place: int, taken: frozenset[int] = frozenset()) -> bool:
    """Say whether all of a packet is what other packets are as well, but for a place and what is in motion.

    A copy of a weight below nought is filled with ones, or has a sign that is like the one in question.

    :param place: a byte that is not looked at
    :param taken: places of a check that holds: it is another one with that byte
    """
    frames = one.kind.frames
    is_checked = len(taken - one.number.covers) > 1  # by two bytes, which damage hardly passes
    differs = int(frames[row, place]) ^ int(np.bincount(frames[:, place]).argmax())
    for at, byte in enumerate(frames[row].tolist()):
        if at == place or at in one.number.covers | taken or byte == _FILLED:
            continue
        tally = np.bincount(frames[:, at], minlength=256)
        if is_checked and differs and byte ^ int(tally.argmax()) == differs:
            continue
        often = tally >= _SEEN
        is_telling = often.sum() <= _MOST_STATES and tally[often].sum() >= _USUAL * len(frames)
        if is_telling and tally[byte] < _SEEN:
            return False
    return True


def _place_of(place: int, usual: int, code: int, not_own: int) -> SignPlace:
    bit = code ^ usual
    if bit.bit_count() == 1:
        return SignPlace(place, bit, (int(code & bit > 0),))
    shift = (not_own & -not_own).bit_length() - 1
    return SignPlace(place, not_own, (code >> shift,), (usual >> shift,))

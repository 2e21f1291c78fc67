"""Digits at the end of a text: the number's own, or another's that stand right behind it.

While a load moves, the last digit of a number is all that the step of the display lets it be: any digit, the
even ones, nought and five. What is some of those only, however far the number has gone, is a digit of another
number, or of a check.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import HEX_OF, Floats, Frames, Marks
from drivers.learn.packets.kinds import is_line
from drivers.learn.packets.line_makes import LineMake

_STEPS = {10: (1, 2, 5, 10), 16: (1, 2, 4, 8, 16)}
"""In which a last digit goes, by how many digits there are."""

_FAST, _MOST_OTHERS, _CHANCE = 3.0, 0.03, 1e-3
"""Steps of the rest of the number by which it moves; shares of digits that damage and chance explain."""

_OFTEN, _ELSEWHERE, _FEWEST = 0.02, 0.4, 5
"""Share of the packets at rest in which a digit is no damage; share of those on the way with other ones."""

_FEW, _SELDOM = 3, 0.002
"""Packets in which damage makes a digit a certain other one, and the share of them."""

_NOUGHT, _POINT, _COMMA, _NINE, _MOSTLY = 0x30, 0x2E, 0x2C, 0x39, 0.9
_MOST_DECIMALS = 4
_BLANK, _LAST_OF_TEXT, _LINE_ENDS = 0x20, 0x7F, (0x0A, 0x0D)

_GOES_ON = "Digits follow the number that may be its own: a load that is no whole number would tell."
_ENDS_EARLIER = "The last digit of the number is never some others: it may be another one's."


def doubts_of_digits(one: Fit, taken: frozenset[int]) -> Iterator[str]:
    """Give what speaks against where a number of text ends, in sentences.

    :param taken: places of its check
    """
    number, frames = one.number, one.kind.frames
    if ends_in_another(one):
        yield _ENDS_EARLIER
    if number.encoding != "ascii":
        return
    make = one.kind.make
    is_whole = one.scale is not None and one.scale.scale == 1 and not _decimals(number, frames)
    is_open = isinstance(make, LineMake) and (make.is_behind_comma or (make.has_digits_behind and is_whole))
    if is_open:
        yield _GOES_ON
    if number.end < one.kind.length and number.end not in taken and _goes_on(one, frames[:, number.end]):
        yield _GOES_ON
    decimals = _decimals(number, frames)
    if any(not _may_be(_cut(number, place).values(frames), one, place) for place in decimals):
        yield _ENDS_EARLIER


def without_idle_digits(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number of text without last decimals that have always been nought, but for the first of them.

    They may be a byte of another one, which is another one some day; and say nothing if they are its own, as
    they are where more text stands behind them.
    """
    number, good = one.number, one.kind.frames[rows_in_place(one)]
    if number.encoding != "ascii" or number.end >= one.kind.length or _is_text(good[:, number.end]):
        return one
    for place in _decimals(number, good)[:-1]:
        if (good[:, place] == _NOUGHT).mean() < 1.0 - _SELDOM:
            break
        number = _cut(number, place)
    return one if number == one.number else fit(one.kind, number, loads, quantity) or one


def ends_in_another(one: Fit) -> bool:
    """Say whether the last of some digits of sixteen is never some others, however far the number goes."""
    number = one.number
    if number.encoding != "hex" or number.order != "big" or number.width < 2:
        return False
    place = number.end - 1
    return not _may_be(_cut(number, place).values(one.kind.frames), one, place)


def may_be_own(shorter: Fit, place: int) -> bool:
    """Say whether a digit behind a number of text may be its own, by what it is while the load moves.

    :param shorter: the number without that digit
    :param place: where the digit stands
    """
    return _may_be(shorter.number.values(shorter.kind.frames), shorter, place)


def is_own(shorter: Fit, place: int) -> bool:
    """Say whether a digit behind a number is others on the way than at rest, as its own digits are."""
    digits = shorter.kind.frames[:, place]
    way = _on_way(shorter.number.values(shorter.kind.frames), shorter)
    rest = np.bincount(digits[np.concatenate(shorter.kind.settled)], minlength=256)
    usual = np.flatnonzero(rest >= _OFTEN * rest.sum())
    return bool(way.sum() >= _FEWEST and np.isin(digits[way], usual, invert=True).mean() > _ELSEWHERE)


def _may_be(says: Floats, one: Fit, place: int) -> bool:
    base = 16 if one.number.encoding == "hex" else 10
    digits = HEX_OF[one.kind.frames[:, place]]
    known = np.isfinite(says)
    is_digit = digits < base
    if not known.any() or is_digit[known].mean() < 1.0 - _MOST_OTHERS:
        return False
    way = np.bincount(digits[_on_way(says, one) & is_digit], minlength=base)[:base]
    # What the way has left out by chance may have been seen where the load is at rest, or slow.
    often = np.bincount(digits[known & is_digit], minlength=base)[:base]
    are_seen = (way > 0) | (often > max(_FEW, _SELDOM * often.sum()))
    for step in _STEPS[base]:
        allowed = np.arange(base) % step == 0
        others = ~allowed[digits[known & is_digit]]
        if others.mean() <= _MOST_OTHERS and _is_chance(are_seen[allowed], int(way[allowed].sum())):
            return True
    return False


def _is_chance(are_seen: Marks, often: int) -> bool:
    """Say whether digits that are all as likely may by chance be no others than those that were seen.

    :param are_seen: which of them were
    :param often: in how many packets
    """
    missing = int((~are_seen).sum())
    ways = math.comb(are_seen.size, missing)
    return bool(ways * (1.0 - missing / are_seen.size) ** often > _CHANCE)


def _on_way(says: Floats, one: Fit) -> NDArray[np.bool_]:
    """Say which packets come while the load moves fast, and are at none of the loads."""
    step = _step_of(says)
    with np.errstate(invalid="ignore"):
        moves = np.abs(np.diff(says, prepend=says[:1])) > _FAST * step
        for rows in one.kind.settled:
            moves &= np.abs(says - np.nanmedian(says[rows])) > _FAST * step
    return np.asarray(moves)


def _step_of(says: Floats) -> float:
    kinds = np.unique(says[np.isfinite(says)])
    return float(np.diff(kinds).min()) if kinds.size > 1 else 1.0


def _goes_on(one: Fit, column: NDArray[np.uint8]) -> bool:
    """Say whether a point stands behind a number, or a digit that may be its own, behind a comma or none."""
    share = (column == _POINT).mean()
    if share > _MOSTLY or (is_line(one.kind) and share > _OFTEN):
        return True  # of some loads at least
    if (column == _COMMA).mean() > _MOSTLY and not _decimals(one.number, one.kind.frames):
        behind = one.number.end + 1
        return behind < one.kind.length and may_be_own(one, behind)
    is_nought = (column == _NOUGHT).mean() > _MOSTLY
    return bool(_are_digits(column) and not is_nought and may_be_own(one, one.number.end))


def _are_digits(column: NDArray[np.uint8]) -> bool:
    return bool(((column >= _NOUGHT) & (column <= _NINE)).mean() > _MOSTLY)


def _is_text(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte is text as a rule, or the end of a line."""
    return bool(
        (((column >= _BLANK) & (column < _LAST_OF_TEXT)) | np.isin(column, _LINE_ENDS)).mean() > _MOSTLY
    )


def _decimals(number: Number, frames: Frames) -> list[int]:
    """Give the places of the last digits behind the point."""
    places = range(number.end - 1, max(number.end - 2 - _MOST_DECIMALS, number.offset), -1)
    points = [place for place in places if np.isin(frames[:, place], (_POINT, _COMMA)).mean() > _MOSTLY]
    return [place for place in places if points and place > points[0]]


def _cut(number: Number, place: int) -> Number:
    return replace(number, width=place - number.offset)

"""Bytes taken for a part of a number that are none: a counter, a clock, a check, a fixed byte."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import HEX_OF, Floats, Frames, whole_numbers
from drivers.learn.packets.kinds import Kind

_FIXED, _OFTEN, _FEW_FLAGS = 0.95, 0.02, 3
_ANYTHING, _EVENLY, _OFF, _SIGMAS = 60.0, 73.9, 0.447, 3.5
"""Standard deviation of a byte that may be anything, at least, and where all are as likely; the standard
uncertainty of that as a share, times the root of how many there are; and how many of those it may be off."""

_LEAPS = 20.0
"""Counts of a step that no byte of anything else makes of a number."""

_FEWEST_STILL, _STILL = 2, 0.93
"""Loads at which the bytes above stand still, and the share of the packets in which they do."""

_COMMA, _MOST_DECIMALS, _FEWEST_PACED, _PACED, _MANY_WHOLE = ord(","), 5, 6, 0.8, 20
"""Digits behind a comma that may be decimals; lines at a load that tell a pace, and the share of them in
which a counter goes up alike; and numbers before the comma, with which the first decimal is many things.
"""

_FEW_DIGITS, _MANY_DIGITS, _WORD = 4, 20, 2

_FLICKERS, _STANDS = 0.1, 0.96
"""Shares of the packets at a load: of a value that comes again and again, and of a byte that stands still."""

_PACES, _LEAST_GONE, _BACK = 40, 4, 0.03
"""How far a clock goes from one packet to the next at most, and at a load at least; share of the packets by
which it goes back where some are damaged."""

_NEARLY_ALL, _BUSY_PART, _CHANCE = 0.96, 0.45, 1e-6
"""Share of lowest bytes, one to three for each upper part, that keep to a part of their range; a part
that is none of steps of a half; and how likely it is at most that those of a number do: each upper part
comes with any."""

_ENOUGH_LOADS, _FINE, _BYTE, _TOGETHER = 4, 1.0, 256.0, 0.97
"""Loads that hardly make a byte rest alike by chance; a display's step, g or °C; values of a byte; and how
long the mean of all as turns of a circle is where they are alike, 1 at most."""

_STEPS = (2.0, 5.0)
"""In which the digits of a number go, other than by one."""

_FEW_CHANGES = 0.3
_FAR_GONE, _FEW_GONE = 12, 6
"""Values of an upper byte, by which the one below it has been everywhere, or another one."""


def has_foreign_byte(kind: Kind, number: Number, grid: float) -> bool:
    """Say whether the lowest byte of an integer goes its own way while the loads are at rest.

    :param grid: the step in which the number changes
    """
    if number.encoding in ("ascii", "digits") and _is_fixed_digit(kind, number):
        return True
    if number.encoding == "ascii" and _has_another_behind_comma(kind, number):
        return True
    if number.encoding not in ("integer", "bcd", "digits") or number.width < 2:
        return False
    if _is_still_below(kind, number):
        return True
    if number.encoding != "integer":
        return False
    return _has_random_bottom(kind, number, grid) or _has_clock_below(kind, number)


def has_foreign_byte_in(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether a byte of a number goes its own way in the packets that hold the load.

    :param good: which packets those are
    """
    if number.encoding not in ("integer", "bcd", "digits") or number.width < 2:
        return False
    if _goes_with_upper(kind, number, good):
        return True
    if number.encoding == "bcd" and _changes_below_steps(kind, number, good):
        return True
    if number.encoding == "digits":
        return False
    return _has_foreign_bottom(kind, number, good) or _has_still_middle(kind, number, good)


def begins_with_mark(kind: Kind, number: Number) -> bool:
    """Say whether text begins with a digit that stays and is no nought: with a byte of something else."""
    if number.encoding != "ascii":
        return False
    first = kind.frames[:, number.offset]
    usual = int(np.bincount(first).argmax())
    return usual in b"123456789" and bool((first == usual).mean() > _FIXED)


def has_still_upper_word(kind: Kind, number: Number) -> bool:
    """Say whether the upper word of a number is the same at all loads: it may be that of anything."""
    words = [whole_numbers(kind.frames[rows][:, number.highest_first[:_WORD]]) for rows in kind.settled]
    return len({float(np.median(each)) for each in words}) == 1


def rests_alike(kind: Kind, number: Number, slope: float) -> bool:
    """Say whether the lowest byte of bare counts rests at about the same at every load: it is another's.

    So does the lower byte of a flow. What stands above it is fine enough for a display by itself.

    :param slope: counts per g or °C
    """
    if number.encoding != "integer" or number.width < 2 or len(kind.settled) < _ENOUGH_LOADS:
        return False
    if abs(slope) < _BYTE / _FINE:
        return False
    turns = np.exp(2j * np.pi * kind.frames[:, number.lowest_at] / _BYTE)
    return abs(complex(np.mean([turns[rows].mean() for rows in kind.settled]))) > _TOGETHER


def _goes_with_upper(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether the lowest byte goes up in a few steps while those above it go far: it is another's."""
    frames = kind.frames[good]
    _, rows = np.unique(_above_lowest(number, frames), return_index=True)
    lowest = frames[rows, number.lowest_at]
    if rows.size < _FAR_GONE or np.bincount(lowest).max() > _NEARLY_ALL * rows.size:
        return False
    return bool((np.diff(lowest) != 0).mean() < _FEW_CHANGES)


def _changes_below_steps(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether the digits above the lowest two go in twos or fives, and those two change nevertheless.

    They would stand still in a number whose display goes in such steps: they are flags.
    """
    frames = kind.frames[good]
    lowest = frames[:, number.lowest_at]
    if not lowest.size or np.bincount(lowest).max() > _NEARLY_ALL * lowest.size:
        return False
    above = np.unique(_above_lowest(number, frames))
    return any((above % step == 0).all() and step ** (1.0 - above.size) < _CHANCE for step in _STEPS)


def _is_fixed_digit(kind: Kind, number: Number) -> bool:
    """Say whether the last digit is one of a few and never nought: flags that look like a digit."""
    last = kind.frames[:, number.lowest_at]
    tally = np.bincount(last, minlength=256)
    often = tally >= _OFTEN * last.size
    if number.width < 2 or often[0x00] or often[0x30] or often.sum() > _FEW_FLAGS:
        return False
    return bool(tally[often].sum() > _FIXED * last.size)


def _has_another_behind_comma(kind: Kind, number: Number) -> bool:
    """Say whether the digits behind a comma are a number in a column of its own, and no decimals.

    A counter goes up from line to line at each load; of decimals, the first one changes as much as others.
    """
    part = kind.frames[:, number.offset : number.end]
    commas = np.flatnonzero((part == _COMMA).mean(axis=0) > _FIXED)
    digits = part[:, commas[-1] + 1 :].astype(np.int64) - ord("0") if commas.size else part[:, :0]
    if not 0 < digits.shape[1] <= _MOST_DECIMALS or np.isin(digits, range(10)).mean() < _FIXED:
        return False
    _, rows = np.unique(part[:, : commas[-1]], axis=0, return_index=True)
    if rows.size >= _MANY_WHOLE and _stays(digits[rows, 0]) and not all(map(_stays, digits.T)):
        return True
    range_of = 10 ** digits.shape[1]
    counts = digits @ 10 ** np.arange(digits.shape[1] - 1, -1, -1)
    told = [rows for rows in map(np.unique, kind.settled) if rows.size > _FEWEST_PACED]
    for rows in told:
        steps = np.diff(counts[rows]) % range_of
        pace = int(np.bincount(steps).argmax())
        if not 0 < pace < range_of // 2 or (steps == pace).mean() < _PACED:
            return False
    return len(told) >= _FEWEST_STILL


def _stays(digits: np.ndarray) -> bool:
    """Say whether a digit is the same in nearly all lines."""
    return bool(np.bincount(digits.clip(0)).max() > _FIXED * digits.size)


def _has_random_bottom(kind: Kind, number: Number, grid: float) -> bool:
    """Say whether a lower byte is anything while those above it stand still: it is none of the number.

    At some loads the byte above may flicker, by its own noise or by a sign; then they tell nothing. Nor do
    they where the display's step is many counts: with that, the lowest byte leaps.
    """
    if grid >= _LEAPS:
        return False
    places = number.highest_first
    for at in range(1, len(places)):
        still = [
            kind.frames[rows, places[at]] for rows in kind.settled
            if _stands_still(kind.frames[rows][:, places[:at]])
        ]  # fmt: skip
        if len(still) >= _FEWEST_STILL and all(lower.std() >= _ANYTHING for lower in still):
            # Noise that hardly makes the byte above flicker spreads nearly as far.
            seen = math.sqrt(float(np.mean([lower.var() for lower in still])))
            off = _SIGMAS * _OFF / math.sqrt(sum(lower.size for lower in still))
            if seen >= _EVENLY * (1.0 - off):
                return True
    return False


def _stands_still(above: np.ndarray) -> bool:
    usual = np.median(above, axis=0)
    return bool((above == usual).all(axis=1).mean() >= _STILL)


def _is_still_below(kind: Kind, number: Number) -> bool:
    """Say whether the lowest byte stands still at each load, while those above it flicker."""
    stood = set[int]()
    for rows in kind.settled:
        frames = kind.frames[rows]
        _, counts = np.unique(_above_lowest(number, frames), return_counts=True)
        if (counts >= max(3.0, _FLICKERS * rows.size)).sum() < 2:
            continue
        tally = np.bincount(frames[:, number.lowest_at])
        if tally.max() < _STANDS * rows.size:
            return False
        stood.add(int(tally.argmax()))
    return len(stood) > 1


def _above_lowest(number: Number, frames: Frames) -> Floats:
    """Read what stands above the lowest byte, shape (n,)."""
    upper = replace(
        number, offset=0, width=number.width - 1, order="big", mask=0, signed="", sign=None, decimals_at=-1
    )
    return upper.values(frames[:, number.highest_first])


def _has_clock_below(kind: Kind, number: Number) -> bool:
    """Say whether the lowest byte goes up at the same pace at every load, as a counter or a clock does."""
    paces = []
    for rows in kind.settled:
        lowest = kind.frames[rows, number.lowest_at].astype(np.int64)
        steps = (np.diff(lowest) + 128) % 256 - 128
        steps = steps[np.abs(steps) <= _PACES]  # what is damaged jumps
        if steps.size < 0.8 * rows.size - 1 or (steps < 0).mean() > _BACK or steps.sum() < _LEAST_GONE:
            return False
        paces.append(float(steps.sum()) / rows.size)
    return max(paces) < 1.5 * min(paces)


def _has_foreign_bottom(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether the lowest byte keeps to a part of its range while those above it go far."""
    frames = kind.frames[good]
    above = _above_lowest(number, frames)
    order = np.argsort(above, kind="stable")
    _, first, times = np.unique(above[order], return_index=True, return_counts=True)
    # A number that rises slowly has small lowest bytes when an upper part is new, great ones at its end, and
    # the others in between: small and great ones alone would be next to each other, and so a part.
    rows = np.unique(order[np.concatenate((first, first + times // 2, first + times - 1))])
    lowest = frames[rows, number.lowest_at].astype(np.int64)
    others = int((HEX_OF[lowest] >= 16).sum())
    if others <= max(1.0, (1.0 - _NEARLY_ALL) * rows.size) and np.unique(lowest).size >= _FEW_DIGITS + others:
        return True  # of a check that is written as text
    if number.encoding == "integer" and _are_digits(lowest):
        return True  # of a number in digits beside it
    size = 256
    if number.encoding == "bcd":
        upper, lower = (lowest & 15, lowest >> 4) if number.swapped else (lowest >> 4, lowest & 15)
        lowest, size = 10 * upper + lower, 100
        lowest = lowest[lowest < size]
    if not lowest.size or np.bincount(lowest).max() > _NEARLY_ALL * lowest.size:
        return False
    return keeps_to_part(lowest, size, first.size)


def _are_digits(lowest: np.ndarray) -> bool:
    """Say whether bytes are many different ones, and two decimal digits each; of any, four in ten are."""
    are_digits = (lowest >> 4 < 10) & (lowest & 15 < 10)
    return bool(are_digits.mean() >= _NEARLY_ALL and np.unique(lowest).size >= _MANY_DIGITS)


def keeps_to_part(lowest: np.ndarray, size: int, uppers: int) -> bool:
    """Say whether lowest bytes keep to a part of their range, which those of a number do not by chance.

    :param lowest: one to three for each upper part
    :param size: how many values there are
    :param uppers: how many upper parts
    """
    part = _part_of(lowest, size)
    return part < _BUSY_PART and uppers * part ** (uppers - 1) < _CHANCE


def _part_of(lowest: np.ndarray, size: int) -> float:
    """Give the smallest part of its range that a lowest byte keeps to, but for what damage explains."""
    ordered = np.sort(np.concatenate((lowest, lowest + size)))
    most = math.ceil(_NEARLY_ALL * lowest.size)
    return float((ordered[most - 1 :][: lowest.size] - ordered[: lowest.size]).min() + 1) / size


def _has_still_middle(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether a byte between others hardly ever changes while those above it go far: it is fixed."""
    columns = [kind.frames[good, place] for place in number.highest_first]
    if len(columns) < 3 or not len(columns[0]):
        return False
    moved = 0
    for column, below in pairwise(columns):
        if moved >= _FEW_GONE and np.bincount(column).max() > _NEARLY_ALL * column.size:
            return bool(np.unique(below).size > 1)
        moved = max(moved, int((np.bincount(column) > 1).sum()))  # what has come once may be damaged
    return False

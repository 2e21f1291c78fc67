"""Whether a byte beside a number counts its decimals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.neighbours import beside

_ROUGH, _SMOOTHER, _MUCH_SMOOTHER = 1.15, 0.9, 0.6
_FAR_NOISIER = 4.0
_LARGE = 300.0
"""Loads from which on fewer decimals would have been seen, g."""

_TENTHS = {Fraction(1, 100): 2, Fraction(1, 1000): 3}
_ENCODINGS = ("integer", "bcd", "digits")


def with_decimals(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Look for a byte that counts the decimals: with it, the number goes more smoothly."""
    best = one
    if one.path < _ROUGH and not _is_uneven(one):
        return one  # flags that move with the load would pull it towards nought
    near = beside(one.number, one.kind.frames)
    for again in _counted(one, loads, quantity):
        if not are_sizes_told(again):
            continue
        most = _SMOOTHER if again.number.decimals_at in near else _MUCH_SMOOTHER
        is_evener = _is_uneven(best) and not _is_uneven(again) and again.path < best.path
        if again.inside >= best.inside - 0.012 and (again.path < most * best.path or is_evener):
            best = again
    return best


def _is_uneven(one: Fit) -> bool:
    """Say whether a number is far noisier at one load than at the others: its digits are miscounted."""
    return bool(one.spreads.max() > _FAR_NOISIER * np.median(one.spreads) + one.grid)


def are_sizes_told(one: Fit) -> bool:
    """Say whether the count of decimals goes with the size of the load: at rest, flags are all the same."""
    column = one.kind.frames[:, one.number.decimals_at]
    return len({int(np.bincount(column[rows]).argmax()) for rows in one.kind.settled}) > 1


def are_decimals_open(
    one: Fit, loads: Sequence[Load], quantity: Quantity, taken: frozenset[int] = frozenset()
) -> bool:
    """Say whether a byte may count the decimals, and the loads have not shown whether it does.

    :param taken: places of its check
    """
    if one.number.decimals_at >= 0:
        return False
    near = beside(one.number, one.kind.frames) - taken
    for again in _counted(one, loads, quantity):
        if again.number.decimals_at not in near or _has_more_when_heavy(again, loads):
            continue
        if again.inside >= one.inside - 0.02 and again.path < 1.3 * one.path and not _is_flag(one, again):
            return True
    return False


def _has_more_when_heavy(again: Fit, loads: Sequence[Load]) -> bool:
    """Say whether a heavier load would have more decimals: instruments show fewer of those, if any."""
    column = again.kind.frames[:, again.number.decimals_at]
    counts = [int(np.bincount(column[rows]).argmax()) for rows in again.kind.settled]
    by_size = [count for _, count in sorted(zip((abs(load.value) for load in loads), counts, strict=True))]
    return any(heavier > lighter for lighter, heavier in pairwise(by_size))


def _is_flag(one: Fit, again: Fit) -> bool:
    """Say whether a byte changes while the load moves only, where the number goes on smoothly without it."""
    frames = one.kind.frames
    column = frames[:, again.number.decimals_at]
    rare = np.flatnonzero(column[1:-1] != np.bincount(column).argmax()) + 1
    plain, counted = (each.loads_of(each.number.values(frames)) for each in (one, again))
    low = np.minimum(plain[rare - 1], plain[rare + 1]) - 2.0 * one.step
    high = np.maximum(plain[rare - 1], plain[rare + 1]) + 2.0 * one.step
    with np.errstate(invalid="ignore"):
        smooth = (plain[rare] >= low) & (plain[rare] <= high)
        jumps = (counted[rare] < low) | (counted[rare] > high)
    return bool((smooth & jumps).sum() >= max(2, 0.4 * rare.size))


def is_count_constant(one: Fit, loads: Sequence[Load]) -> bool:
    """Say whether a byte beside a number is how many decimals it has, and larger loads may have fewer."""
    scale, number, frames = one.scale, one.number, one.kind.frames
    if scale is None or scale.scale not in _TENTHS or number.encoding not in _ENCODINGS:
        return False
    if number.decimals_at >= 0 or max(abs(load.value) for load in loads) >= _LARGE:
        return False
    places = beside(number, frames) - ({number.sign.offset} if number.sign is not None else set())
    places -= {0} if one.kind.is_cut else set()  # where a frame begins
    return any((frames[:, place] == _TENTHS[scale.scale]).mean() > 0.97 for place in places)


def _counted(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Iterator[Fit]:
    """Give the same number with each byte that may count its decimals and agrees with the loads."""
    if one.number.encoding not in _ENCODINGS or one.scale is None:
        return
    sign_at = one.number.sign.offset if one.number.sign is not None else -1
    for place, column in enumerate(one.kind.frames.T):
        tally = np.bincount(column, minlength=256)
        often = np.flatnonzero(tally >= max(3.0, 0.004 * column.size))
        if place == sign_at or place in one.number.covers or not 2 <= often.size <= 4 or often.max() > 6:
            continue
        again = fit(one.kind, replace(one.number, decimals_at=place), loads, quantity)
        if again is None or again.scale is None or again.zero_kind != "none":
            continue
        if again.scale.scale == 1:  # what is counted are the decimals of a unit
            yield again

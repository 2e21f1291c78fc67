"""Cups made in one go: does a place in the round make a difference, beyond chance?

Cups of a round share the water, the grind and the hour; so every figure is taken against the mean of its
own round, and chance is what shuffling the cups within their rounds does. The largest of all differences,
over all figures and places, is held against the largest of each shuffle (Westfall and Young 1993, max T), so
that looking at many places does not find one by looking.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from logger.compare.practice.chance import ALPHA
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.intervals import mean_estimate
from logger.compare.practice.place_words import none_found, odd_words, too_few
from logger.compare.practice.results import (
    OddPosition,
    Positions,
)
from logger.compare.practice.table import Column, Table

ROUND_GAP = timedelta(minutes=20)
"""A cup that starts later than this after the one before begins a new round (common practice)."""

_SHUFFLES = 2000
_SEED = 3
_MOST_UNKNOWN = 0.2


def positions_of(table: Table) -> Positions:
    """Cups by their place in the round."""
    rounds = rounds_of(table.started)
    said = too_few(rounds)
    if said:
        return Positions(rounds, (), said)
    count = max(len(one) for one in rounds)
    # Rounds of fewer cups stay out: their places mean something else.
    grid = np.array([one for one in rounds if len(one) == count])
    columns = [number for number, column in enumerate(table.columns) if _is_told(table, column, number, grid)]
    odd = odd_positions(
        [table.columns[number] for number in columns], np.moveaxis(table.values[grid][:, :, columns], 2, 0)
    )
    return Positions(rounds, odd, none_found(len(grid), count) if not odd else odd[0].says + ".")


def rounds_of(started: Sequence[datetime | None]) -> tuple[tuple[int, ...], ...]:
    """Part brews in rounds by when they started; nothing where that is not known of all.

    :param started: in order
    """
    rounds: list[list[int]] = []
    before: datetime | None = None
    for number, at in enumerate(started):
        if at is None:
            return ()
        if before is None or at - before > ROUND_GAP:
            rounds.append([])
        rounds[-1].append(number)
        before = at
    return tuple(tuple(one) for one in rounds)


def _is_told(
    table: Table, column: Column, number: int, grid: np.ndarray[tuple[int, int], np.dtype[np.intp]]
) -> bool:
    values = table.values[grid, number]
    known = np.isfinite(values)
    is_last_weight = column.quantity == "total_g" and bool(table.target.stages)
    says_something = column.judged or column.quantity == "strength_percent"
    return (
        says_something
        and not is_last_weight
        and known.mean() >= 1 - _MOST_UNKNOWN
        and np.ptp(values[known]) > 0
    )


def odd_positions(columns: Sequence[Column], values: Floats) -> tuple[OddPosition, ...]:
    """Places whose cups differ from the others of their round beyond chance.

    :param values: NaN where not known, shape (columns, rounds, places)
    :return: the surest first
    """
    if not len(columns):
        return ()
    largest = _largest_by_chance(values)
    odd: list[OddPosition] = []
    for column, own in zip(columns, values, strict=True):
        scale = _scale(own)
        places = list(range(own.shape[1]))
        found: list[tuple[int, Floats, float]] = []
        while len(places) >= 2:
            off = _against_others(own[:, places])
            size = np.abs(_size(own[:, places], scale))
            at = int(np.argmax(size))
            p = float((1 + (largest >= size[at] - 1e-12).sum()) / (1 + largest.size))
            if p > ALPHA:
                break
            # With it gone, what is left is compared among itself: else all the others would look odd too.
            differences = off[:, at][np.isfinite(off[:, at])]
            found.append((places.pop(at), np.asarray(differences), p))
        # Of two places that differ nobody can say which is the odd one.
        for place, differences, p in found[: max(own.shape[1] - 2, 1)]:
            others = [one + 1 for one in places]
            difference = mean_estimate(differences, column.unit)
            says = odd_words(column, place + 1, others, differences, alone=len(found) == 1)
            odd.append(OddPosition(column.name, column.quantity, place + 1, difference, p, says))
    return tuple(sorted(odd, key=lambda one: (one.p, -abs(one.difference.value))))


def _largest_by_chance(values: Floats) -> Floats:
    """The largest difference of each shuffle of cups within their rounds, shape (shuffles,)."""
    generator = np.random.default_rng(_SEED)
    orders = np.argsort(generator.random((_SHUFFLES, *values.shape[1:])), axis=-1)
    largest = np.zeros(_SHUFFLES)
    for own in values:
        shuffled = np.take_along_axis(np.broadcast_to(own, orders.shape), orders, axis=-1)
        largest = np.maximum(largest, np.abs(_size(shuffled, _scale(own))).max(axis=-1))
    return largest


def _scale(own: Floats) -> float:
    """How much cups of one round differ, whatever their place."""
    since = own - np.nanmean(own, axis=-1, keepdims=True)
    return max(math.sqrt(float(np.nanmean(since**2))), 1e-12)


def _size(values: Floats, scale: float) -> Floats:
    """How far each place is off its rounds' means, in standard errors, shape (..., places)."""
    since = values - np.nanmean(values, axis=-1, keepdims=True)
    known = np.isfinite(since)
    count = known.sum(axis=-2)
    mean = np.where(known, since, 0.0).sum(axis=-2) / np.maximum(count, 1)
    return np.asarray(mean * np.sqrt(count) / scale, dtype=np.float64)


def _against_others(values: Floats) -> Floats:
    """Each cup less the mean of the others of its round, shape (rounds, places)."""
    known = np.isfinite(values)
    count = known.sum(axis=1, keepdims=True)
    total = np.where(known, values, 0.0).sum(axis=1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(values - (total - values) / (count - 1), dtype=np.float64)

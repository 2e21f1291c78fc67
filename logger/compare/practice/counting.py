"""Which figures count for the next cup, and the probability that it is inside in all of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from logger.compare.comparison import Quantity
from logger.compare.practice.estimates import (
    Estimate,
    Floats,
)
from logger.compare.practice.probability import next_inside
from logger.compare.practice.results import (
    NextCup,
)
from logger.compare.practice.table import UNTOLD, Table
from logger.compare.practice.words import next_cup_words
from logger.compare.practice.worst_figure import off_in_tolerances

LEAST_TOLD = 2 / 3
"""A figure that can be told in a smaller share of brews does not count: it would leave too few brews."""


def counted_columns(table: Table) -> tuple[list[int], list[tuple[str, Quantity, str]]]:
    """Places of the columns that count, and those of the target that do not, with a clause that says why."""
    counted: list[int] = []
    uncounted: list[tuple[str, Quantity, str]] = []
    whole = ~table.skipped
    for number, column in enumerate(table.columns):
        if not column.judged:
            continue
        told = int((table.inside[whole, number] != UNTOLD).sum())
        if not column.has_limits:
            uncounted.append((*column.key, "its limits differ from brew to brew"))
        elif column.limits[1] <= column.limits[0]:
            uncounted.append((*column.key, "the target leaves it no room at all"))
        elif told < max(LEAST_TOLD * whole.sum(), 1):
            uncounted.append(
                (*column.key, column.why or f"it could be told in {told} of {whole.sum()} brews only")
            )
        else:
            counted.append(number)
    return counted, uncounted


def next_cup_of(table: Table) -> tuple[NextCup, list[int]]:
    """The number that matters, and the places of the columns that it rests on."""
    counted, uncounted = counted_columns(table)
    known = ~table.skipped & (table.inside[:, counted] != UNTOLD).all(axis=1)
    if not counted:
        known = np.zeros(table.n, dtype=np.bool_)
    off, resolved = _off(table, counted)
    inside = next_inside(off[known], resolved, int(table.skipped.sum()))
    worst = np.full(table.n, np.nan)
    figure: list[tuple[str, Quantity] | None] = [None] * table.n
    for brew in np.flatnonzero(known):
        at = int(np.argmax(np.abs(off[brew])))
        worst[brew] = abs(off[brew, at])
        figure[brew] = table.columns[counted[at]].key
    n_known, n_skipped = int(known.sum()), int(table.skipped.sum())
    n_inside = int((table.inside[np.ix_(known, counted)] != 0).all(axis=1).sum()) if counted else 0
    cup = NextCup(
        inside=inside,
        worst=worst,
        worst_figure=tuple(figure),
        n=n_known,
        n_inside=n_inside,
        n_skipped=n_skipped,
        n_cut_off=table.n - n_known - n_skipped,
        counted=tuple(table.columns[number].key for number in counted),
        uncounted=tuple(uncounted),
        says="",
    )
    return next_cup_words(cup), counted


def inside_of(table: Table, numbers: Sequence[int], skipped: int = 0) -> Estimate:
    """The probability that the next brew is inside in some of the figures.

    :param numbers: places of columns; those without limits are left out
    :param skipped: brews outside whatever the figures
    """
    with_limits = [
        number for number in numbers if table.columns[number].has_limits and _has_room(table, number)
    ]
    known = ~table.skipped & (table.inside[:, with_limits] != UNTOLD).all(axis=1)
    off, resolved = _off(table, with_limits)
    return next_inside(off[known], resolved, skipped)


def _has_room(table: Table, number: int) -> bool:
    low, high = table.columns[number].limits
    return high > low


def _off(table: Table, numbers: Sequence[int]) -> tuple[Floats, Floats]:
    """How far each brew is off, and what the instruments resolve, both in tolerances."""
    limits = np.array([table.columns[number].limits for number in numbers]).reshape(len(numbers), 2)
    off = off_in_tolerances(table.values[:, numbers], limits) if numbers else np.zeros((table.n, 0))
    steps = np.median(table.steps[:, numbers], axis=0) if table.n and numbers else np.zeros(len(numbers))
    return off, steps / (np.ptp(limits, axis=1) / 2) if numbers else np.zeros(0)

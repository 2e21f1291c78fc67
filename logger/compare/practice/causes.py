"""What a figure takes over from others, and what is its own.

A late start makes the pour end late and pushes the next start; a pour that ends heavy lifts the weight of the
next. So each figure is split in what follows from figures before it and a rest of its own, and only the rest
can be put right there. What follows from what is known of brewing: an end is its start and the grams poured
at their flow; a total is the last weight. How much of a start, a weight or a temperature carries over to the
next is read from the brews, between not at all and all of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from logger.compare.comparison import Quantity
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.table import WHOLE, Column

Key = tuple[int, Quantity]


@dataclass(frozen=True, slots=True)
class Causes:
    """Figures in the order of cause and consequence: ``x = carried @ x + own``.

    :param carried: how much of a figure (column) goes over into another (row), lower triangular, shape (k, k)
    :param own_mean: own share of the distance from what is wanted, 0 where nothing is wanted, shape (k,)
    :param own: own rest of each brew around its mean, shape (n, k)
    :param total: how much a change of a figure (column) changes another (row) in the end, shape (k, k)
    """

    carried: Floats
    own_mean: Floats
    own: Floats
    total: Floats

    @property
    def own_sd(self) -> Floats:
        """Standard deviation of each figure's own rest, shape (k,)."""
        return np.asarray(self.own.std(axis=0, ddof=1), dtype=np.float64)


def find_causes(columns: Sequence[Column], values: Floats) -> Causes:
    """Split every figure in what it takes over and what is its own.

    :param columns: in the order of the table: a figure takes over only from ones that are found
    :param values: shape (n, k), n at least 3; a value that is not known is taken for its figure's mean
    """
    filled = np.where(np.isfinite(values), values, np.nanmean(values, axis=0))
    since = filled - filled.mean(axis=0)
    at = {(column.stage, column.quantity): number for number, column in enumerate(columns)}
    carried = np.zeros((len(columns), len(columns)))
    for number, column in enumerate(columns):
        rest = since[:, number].copy()
        for key, share in _fixed_shares(column, at, filled):
            carried[number, at[key]] = share
            rest -= share * since[:, at[key]]
        best = _best_before(_may_carry(column, columns), at, since, rest)
        if best is not None:
            carried[number, best[0]] += best[1]
    off = np.array([mean - one.wanted for mean, one in zip(filled.mean(axis=0), columns, strict=True)])
    # Where nothing is wanted nothing is off, and what comes from there is no fault of the one before.
    off = np.where(np.isfinite(off), off, 0.0)
    identity = np.eye(len(columns))
    return Causes(
        carried=carried,
        own_mean=np.where([math.isfinite(one.wanted) for one in columns], off - carried @ off, 0.0),
        own=since @ (identity - carried).T,
        total=np.asarray(np.linalg.inv(identity - carried), dtype=np.float64),
    )


def _fixed_shares(column: Column, at: Mapping[Key, int], values: Floats) -> Iterator[tuple[Key, float]]:
    """What follows by arithmetic, as shares of the changes of other figures, in their own units."""
    stage, quantity = column.stage, column.quantity

    def mean(key: Key) -> float:
        return float(values[:, at[key]].mean())

    if stage != WHOLE and quantity == "end_s":
        start: Key = (stage, "start_s")
        weight: Key = (stage, "to_g")
        flow: Key = (stage, "flow_g_s")
        before: Key = (stage - 1, "to_g")
        if start in at:
            yield start, 1.0
        if weight in at and flow in at and mean(flow) > 0:
            poured_g = mean(weight) - (mean(before) if before in at else 0.0)
            yield weight, 1.0 / mean(flow)
            yield flow, -poured_g / mean(flow) ** 2
            if before in at:
                yield before, -1.0 / mean(flow)
    elif stage == WHOLE and quantity in ("total_g", "end_s"):
        last = max((each for each, _ in at if each != WHOLE), default=WHOLE)
        source: Key = (last, "to_g" if quantity == "total_g" else "end_s")
        if last != WHOLE and source in at:
            yield source, 1.0
        elif last == WHOLE and quantity == "end_s" and (WHOLE, "total_g") in at:
            total: Key = (WHOLE, "total_g")
            drip: Key = (WHOLE, "first_drip_s")
            runs_s = mean((WHOLE, "end_s")) - (mean(drip) if drip in at else 0.0)
            # What a shot takes longer for a gram more, at its mean flow.
            yield total, runs_s / mean(total) if mean(total) > 0 else 0.0


def _may_carry(column: Column, columns: Sequence[Column]) -> list[Key]:
    """Figures of which some part may go over into this one."""
    before = column.stage - 1
    if column.stage == WHOLE:
        is_shot = all(each.stage == WHOLE for each in columns)
        return [(WHOLE, "first_drip_s")] if is_shot and column.quantity == "end_s" else []
    if column.quantity == "start_s":
        return [(before, "start_s"), (before, "end_s")]
    return [(before, column.quantity)] if column.quantity in ("to_g", "water_c") else []


def _best_before(
    keys: Sequence[Key], at: Mapping[Key, int], since: Floats, rest: Floats
) -> tuple[int, float] | None:
    """The figure that explains most, and how much of it carries over."""
    found = [(at[key], *_carries(since[:, at[key]], rest)) for key in keys if key in at]
    number, share, _ = max(found, key=lambda one: one[2], default=(0, 0.0, 0.0))
    return (number, share) if share > 0 else None


def _carries(before: Floats, rest: Floats) -> tuple[float, float]:
    """The slope, between 0 and 1, drawn towards 0 by as much as chance makes it; and what it explains.

    The shrinking is James and Stein's positive part: ``1 - 1 / t^2``.
    """
    n, power = before.size, float(before @ before)
    if n < 4 or power <= 1e-12:
        return 0.0, 0.0
    slope = float(before @ rest) / power
    left = rest - slope * before
    error = math.sqrt(float(left @ left) / (n - 2) / power)
    kept = max(0.0, 1.0 - (error / slope) ** 2) if slope > 0 else 0.0
    return min(slope * kept, 1.0), slope**2 * power

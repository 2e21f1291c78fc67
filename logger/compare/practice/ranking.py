"""What to change next: every cause with what putting it right would give, the most first."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from logger.compare.practice.causes import Causes, find_causes
from logger.compare.practice.chance import (
    ALPHA,
    brews_for_mean,
    brews_for_sd,
    holm,
    mean_off_p,
    sd_over_p,
)
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.fix_words import Seen, change_of, rule_of, says_of
from logger.compare.practice.gains import Gains, capable_sd, first_shares, gains_of, moved
from logger.compare.practice.intervals import FEWEST
from logger.compare.practice.results import (
    Fix,
    NextCup,
    Part,
)
from logger.compare.practice.table import WHOLE, Column, Table

LEAST_GAIN = 0.005
"""What would raise the probability by less is no cause."""

_PARTS: tuple[Part, Part] = ("mean", "spread")
_FOLLOWS = ("poured_g", "drawdown_s", "resistance_s", "strength_percent")
"""Figures that are told by others, and those that nobody can set."""


def rank(table: Table, next_cup: NextCup, counted: Sequence[int]) -> tuple[Fix, ...]:
    """Put every cause right in turn.

    :param counted: places of the columns that count for the next cup
    :return: empty below 3 brews of which all is known
    """
    rows = np.isfinite(next_cup.worst)
    n = int(rows.sum())
    if n < FEWEST or not counted:
        return ()
    places = [number for number in range(len(table.columns)) if _may_cause(table, number, rows, counted)]
    columns = tuple(table.columns[number] for number in places)
    values = table.values[rows][:, places]
    values = np.where(np.isfinite(values), values, np.nanmean(values, axis=0))
    counts = np.array([number in counted for number in places])
    middle, half = _limits(columns, counts)
    causes = find_causes(columns, values)
    gains = gains_of(causes, values.mean(axis=0) - middle, half, counts)
    shares = first_shares(columns, values, middle, half, counts)
    return _fixes(table, next_cup, columns, causes, gains, capable_sd(causes, half, counts), shares)


def _may_cause(table: Table, number: int, rows: NDArray[np.bool_], counted: Sequence[int]) -> bool:
    column = table.columns[number]
    if number in counted:
        return column.quantity != "total_g" or not table.target.stages
    known = np.isfinite(table.values[rows, number]).mean()
    return column.stage != WHOLE and column.quantity not in _FOLLOWS and bool(known > 0.5)


def _limits(columns: Sequence[Column], counts: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    low = np.array(
        [column.limits[0] if counted else 0.0 for column, counted in zip(columns, counts, strict=True)]
    )
    high = np.array(
        [column.limits[1] if counted else 2.0 for column, counted in zip(columns, counts, strict=True)]
    )
    return (low + high) / 2, (high - low) / 2


def _fixes(
    table: Table,
    next_cup: NextCup,
    columns: Sequence[Column],
    causes: Causes,
    gains: Gains,
    capable: Floats,
    shares: Floats,
) -> tuple[Fix, ...]:
    n, count = causes.own.shape[0], len(columns)
    sds = causes.own_sd
    chances = holm(
        [mean_off_p(mean, sd, n) if mean else math.nan for mean, sd in zip(causes.own_mean, sds, strict=True)]
        + [
            sd_over_p(sd, wide, n) if math.isfinite(wide) else math.nan
            for sd, wide in zip(sds, capable, strict=True)
        ]
    )
    fixes: list[Fix] = []
    for at, then in enumerate(np.concatenate((gains.mean, gains.spread)).tolist()):
        number, part = at % count, _PARTS[at // count]
        after = moved(next_cup.inside.value, gains.now, then)
        if after - next_cup.inside.value < LEAST_GAIN:
            continue
        seen = Seen.of(table, columns, causes, number, float(capable[number]))
        own = seen.own_mean if part == "mean" else seen.own_sd
        carried = chances[at] <= ALPHA
        fixes.append(
            Fix(
                stage=seen.column.name,
                quantity=seen.column.quantity,
                unit=seen.column.unit,
                kind=seen.column.kind,
                part=part,
                own=own,
                now=next_cup.inside.value,
                then=after,
                carried=carried,
                brews_needed=0 if carried else _still_needed(seen, part, n),
                first_share=float(shares[at]),
                says=says_of(seen, part),
                change=change_of(seen, part) if carried else "",
                rule=rule_of(seen, part) if carried else "",
            )
        )
    return tuple(sorted(fixes, key=lambda fix: -fix.gain))


def _still_needed(seen: Seen, part: Part, n: int) -> int | None:
    """How many more brews until the advice may be given, if they go on like this."""
    sd = seen.sd
    in_all = brews_for_mean(seen.own_mean.value, sd) if part == "mean" else brews_for_sd(sd, seen.capable)
    return None if in_all is None else max(in_all - n, 1)

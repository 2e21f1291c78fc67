"""Which rows of a stranger's table give readings, and whether their times make sense."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from drivers.reading import Unit
from logger.errors import BadInputError
from logger.recording.csv_columns import Column, listed
from logger.recording.csv_table import Table
from logger.recording.csv_times import Times, is_date_alone


@dataclass(frozen=True, slots=True)
class Series:
    """One channel: its values, a row each; NaN where there is none."""

    channel: str
    unit: Unit
    column: Column
    values: list[float]


def rows_that_give_readings(
    table: Table, time: Column, times: Times, series: Sequence[Series]
) -> tuple[list[int], set[int]]:
    """Tell the rows that give readings from those that are left out, both by number from 0.

    :param series: the weight first, then the temperatures
    :raises BadInputError: when none gives any, or their times make no sense
    """
    skipped = _skipped(table, times, series)
    rows = [n for n in range(len(table.rows)) if n not in skipped]
    _check_rows(table, rows, time, series[0].column)
    _check_times_move(table, times, rows, time)
    _check_order(table, times, rows, time)
    return rows, skipped


def _skipped(table: Table, times: Times, series: Sequence[Series]) -> set[int]:
    """Find the rows that give no reading, or whose weight is there and cannot be read."""
    weight, *others = series
    return {
        n
        for n, row in enumerate(table.rows)
        if math.isnan(times.seconds[n])
        or (
            math.isnan(weight.values[n])
            and (row.cell(weight.column.number) or all(math.isnan(other.values[n]) for other in others))
        )
    }


def _check_rows(table: Table, rows: Sequence[int], time: Column, weight: Column) -> None:
    if rows:
        return
    first = table.rows[0]
    cells = f"time {first.cell(time.number)!r} and weight {first.cell(weight.number)!r}"
    raise BadInputError(
        f"{table.path}, line {first.line}",
        f"neither this row nor any other can be read: {cells}",
        f"Name the columns with --time-column and --weight-column; there are: {listed(table.columns)}.",
    )


def _check_times_move(table: Table, times: Times, rows: Sequence[int], time: Column) -> None:
    if len(rows) < 2 or any(times.seconds[n] != times.seconds[rows[0]] for n in rows):
        return
    is_one_column = time.name == table.columns[time.number].name
    cell = table.rows[rows[0]].cell(time.number)
    raise BadInputError(
        f"{table.path}, line {table.rows[rows[0]].line}",
        f"the times are dates alone, all of them {cell!r}"
        if is_one_column and is_date_alone(cell)
        else f"the times do not move: in {time.name!r} all {len(rows)} rows say the same",
        f"Name another column: --time-column; there are: {listed(table.columns)}.",
    )


def _check_order(table: Table, times: Times, rows: Sequence[int], time: Column) -> None:
    for before, after in pairwise(rows):
        if times.seconds[after] < times.seconds[before]:
            texts = [table.rows[n].cell(time.number) for n in (before, after)]
            raise BadInputError(
                f"{table.path}, line {table.rows[after].line}",
                f"the time goes back from {texts[0]!r} to {texts[1]!r}",
                "Cut the file into one for each brew, or put its rows in order of time.",
            )

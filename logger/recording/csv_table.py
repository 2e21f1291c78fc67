"""Where the headings of a stranger's table are, and what its cells say as numbers."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from logger.errors import BadInputError
from logger.recording.csv_columns import (
    TEMPERATURE_UNITS,
    WEIGHT_UNITS,
    Column,
    Kind,
    is_unconverted,
    kind_of_unit,
    known_unit,
    read_heading,
)
from logger.recording.csv_text import Row, Sheet
from logger.recording.csv_times import has_decimal_comma, looks_like_time, number

_ROWS_LOOKED_AT = 200
_ROWS_BELOW = 5
_WITH_UNIT = re.compile(r"([^A-Za-z°]*\d[\d.,]*)\s*(°?\s?[A-Za-z]+)")


@dataclass(frozen=True, slots=True)
class Table:
    """A sheet with its headings understood.

    :param rows: those below the headings
    :param has_headings: False where the first row is a reading already
    """

    path: Path
    columns: list[Column]
    rows: list[Row]
    delimiter: str
    has_headings: bool

    def cells(self, column: Column) -> list[str]:
        """One column, blanks around its cells taken away."""
        return [row.cell(column.number) for row in self.rows]

    def times(self, column: Column) -> tuple[list[str], str | None]:
        """One column of times, and the unit that its cells carry, as in ``0.5 s``."""
        cells = [_split_unit(cell, "time") for cell in self.cells(column)]
        unit = next((unit for text, unit in cells if text), None)
        # Another unit in the middle is left on its cell, which then cannot be read and is counted.
        return [text if own == unit else f"{text} {own}" for text, own in cells], unit

    def quantities(self, column: Column, kind: Kind, unit: str | None) -> list[float]:
        """One column in g or °C; NaN where a cell cannot be read.

        :param unit: of all cells; None to go by the cell, then by the heading
        """
        cells = [_split_unit(cell, kind) for cell in self.cells(column)]
        comma = has_decimal_comma([text for text, _ in cells], self.delimiter)
        heading_unit = column.unit if column.unit and kind_of_unit(column.unit) == kind else None
        default = heading_unit or ("g" if kind == "weight" else "°C")
        return [_converted(number(text, comma), unit or own or default) for text, own in cells]


def find_table(path: Path, sheet: Sheet) -> Table:
    """Find the headings and the rows below them; lines of another width above are passed over.

    :raises BadInputError: when there is no table
    """
    width = _width(sheet.rows)
    start = next(n for n, row in enumerate(sheet.rows) if len(row.cells) == width)
    rows = sheet.rows[start:]
    if not _is_heading(rows[0], rows[1:]):
        columns = _without_headings(rows[:_ROWS_LOOKED_AT], width)
        return Table(path, columns, rows, sheet.delimiter, has_headings=False)
    has_units = len(rows) > 1 and _is_unit_row(rows[1])
    unit_cells = rows[1] if has_units else Row(0, [])
    columns = [read_heading(n, text, unit_cells.cell(n)) for n, text in enumerate(rows[0].cells)]
    rows = rows[2:] if has_units else rows[1:]
    if not rows:
        raise BadInputError(
            str(path), "has headings and nothing below them", "Choose the file that holds the readings."
        )
    return Table(path, columns, rows, sheet.delimiter, has_headings=True)


def _width(rows: Sequence[Row]) -> int:
    widths = Counter(len(row.cells) for row in rows[:_ROWS_LOOKED_AT])
    return max(widths, key=lambda width: (widths[width], width))


def _is_heading(row: Row, below: Sequence[Row]) -> bool:
    texts = [n for n, cell in enumerate(row.cells) if cell.strip() and not _is_value(cell)]
    if not below:
        return bool(texts)
    return any(_is_value(other.cell(n)) for other in below[:_ROWS_BELOW] for n in texts) or (
        len(texts) == len(row.cells)
    )


def _is_unit_row(row: Row) -> bool:
    cells = [row.cell(n).strip("()[]{}") for n in range(len(row.cells))]
    return any(known_unit(cell) or is_unconverted(cell) for cell in cells) and not any(
        _is_value(cell) for cell in cells
    )


def _is_value(cell: str) -> bool:
    cell = cell.strip()
    return (
        looks_like_time(cell) or not math.isnan(number(cell, "," in cell)) or bool(_WITH_UNIT.fullmatch(cell))
    )


def _without_headings(rows: Sequence[Row], width: int) -> list[Column]:
    """Take the first column of values for the time and the next for the weight."""
    columns = [read_heading(n, "") for n in range(width)]
    valued = [n for n in range(width) if any(_is_value(row.cell(n)) for row in rows)]
    kinds: tuple[Kind, ...] = ("time", "weight")
    for place, kind in zip(valued, kinds, strict=False):
        columns[place] = replace(columns[place], kind=kind)
    return columns


def _split_unit(cell: str, kind: Kind) -> tuple[str, str | None]:
    """Take ``18.2 g`` apart."""
    match = _WITH_UNIT.fullmatch(cell)
    unit = known_unit(match[2]) if match else None
    if match is None or unit is None or kind_of_unit(unit) != kind:
        return cell, None
    return match[1].strip(), unit


def _converted(value: float, unit: str) -> float:
    if unit in WEIGHT_UNITS:
        value = value * WEIGHT_UNITS[unit]
    elif unit == TEMPERATURE_UNITS[1]:
        value = (value - 32.0) / 1.8
    elif unit == TEMPERATURE_UNITS[2]:
        value = value - 273.15
    return value if math.isfinite(value) else math.nan

"""A recording made from a stranger's CSV: any table with a time and a weight column."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from drivers.reading import CELSIUS, GRAM, JOURNAL_HEADER, Reading, parse_journal_line
from logger.errors import BadInputError
from logger.recording.csv_columns import (
    TIME_UNITS,
    WEIGHT_UNITS,
    Column,
    choose,
    find_column,
    known_unit,
)
from logger.recording.csv_rows import Series, rows_that_give_readings
from logger.recording.csv_table import Table, find_table
from logger.recording.csv_text import DELIMITER_NAMES, Sheet, read_sheet
from logger.recording.csv_times import Times, is_date_alone, looks_like_time, read_times
from logger.recording.descriptor import Meta
from logger.recording.import_writing import write_recording
from logger.recording.parquet_text import SUFFIX, read_parquet
from logger.recording.store import slug


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a CSV, and how it was understood.

    :param path: the new recording's folder
    :param rows: rows that gave a reading
    :param skipped: rows whose time or weight could not be read
    :param first_skipped_line: the line of the first of them, or None
    :param understood: in words: encoding, delimiter, time, weight, temperatures
    """

    path: Path
    rows: int
    skipped: int
    first_skipped_line: int | None
    understood: dict[str, str] = field(default_factory=dict)


def import_csv(
    path: str | Path,
    into: Path,
    *,
    time_column: str | None = None,
    weight_column: str | None = None,
    temperature_columns: Sequence[str] | None = None,
    unit: str | None = None,
    time_unit: str | None = None,
    delimiter: str | None = None,
    title: str | None = None,
    now: datetime | None = None,
) -> Imported:
    """Make a recording of a CSV or Parquet file; what is not given is guessed, and said.

    One that evencup exported long comes back as it was; Parquet, long or wide, brings with it all that was
    known of the brew.

    :param path: a CSV, in UTF-8, UTF-16 or Latin-1, or a file that ends in ``.parquet``
    :param into: where recordings live
    :param time_column: heading, or number from 1
    :param weight_column: heading, or number from 1
    :param temperature_columns: headings or numbers; None for all that look like temperatures
    :param unit: of the weight: g, kg, mg, oz, lb
    :param time_unit: of times that are numbers: s, ms, us, ns, min, h
    :param delimiter: what stands between cells: one character, or its name
    :param title: of the recording; None for the file's name
    :param now: gives the folder its date where the file has none; None for this moment
    :raises BadInputError: with file, line, what is wrong and which option helps; nothing is then written
    :raises FailureError: when the disk refuses; nothing is then written
    """
    path = Path(path)
    weight_unit = _given_unit(unit, WEIGHT_UNITS, "--unit")
    number_unit = _given_unit(time_unit, TIME_UNITS, "--time-unit")
    sheet, known = _read(path, _given_delimiter(delimiter))
    now = now or datetime.now().astimezone()
    if sheet.rows[0].cells == JOURNAL_HEADER.split(","):
        return _import_own(path, sheet, into, title, known, now)
    table = find_table(path, sheet)
    weight = _weight(table, weight_column, weight_unit)
    time, times = _times(table, time_column, number_unit)
    series = [weight, *_temperatures(table, temperature_columns, {weight.column.number, time.number})]
    rows, skipped = rows_that_give_readings(table, time, times, series)
    understood = _understood(sheet, time, times, series, weight_unit)
    facts = {"file": path.name, "rows": len(rows), "skipped": len(skipped), **understood}
    meta = _meta(known or Meta(title=path.stem, started=times.started), title, facts)
    folder = write_recording(into, meta, _readings(times, series, rows), now)
    first = table.rows[min(skipped)].line if skipped else None
    return Imported(folder, len(rows), len(skipped), first, understood)


def _read(path: Path, delimiter: str | None) -> tuple[Sheet, Meta | None]:
    """Read the cells, and of Parquet what it knows of the brew."""
    if path.suffix.lower() == SUFFIX:
        return read_parquet(path)
    return read_sheet(path, delimiter), None


def _import_own(
    path: Path, sheet: Sheet, into: Path, title: str | None, known: Meta | None, now: datetime
) -> Imported:
    """Take back what evencup itself wrote, reading for reading."""
    readings = []
    for row in sheet.rows[1:]:
        try:
            readings.append(parse_journal_line(",".join(row.cells)))
        except ValueError as error:
            raise BadInputError(
                f"{path}, line {row.line}", str(error), "Mend that line, or export the recording again."
            ) from error
    understood = {"encoding": sheet.encoding, "readings": "as exported by evencup"}
    facts = {"file": path.name, "rows": len(readings), "skipped": 0, **understood}
    meta = _meta(known or Meta(title=path.stem), title, facts)
    return Imported(write_recording(into, meta, iter(readings), now), len(readings), 0, None, understood)


def _meta(known: Meta, title: str | None, facts: dict[str, Any]) -> Meta:
    return replace(known, title=title or known.title, complete=True, imported=facts)


def _given_unit(text: str | None, units: Collection[str], option: str) -> str | None:
    if text is None:
        return None
    unit = known_unit(text)
    if unit not in units:
        raise BadInputError(option, f"{text!r} is no unit that is known here", f"Known: {', '.join(units)}.")
    return unit


def _given_delimiter(text: str | None) -> str | None:
    if text is None:
        return None
    by_name = {name: character for character, name in DELIMITER_NAMES.items()} | {"\\t": "\t"}
    character = by_name.get(text.lower(), text)
    if len(character) != 1 or character in '\r\n"' or character.isalnum():
        known = ", ".join(by_name)
        raise BadInputError(
            "--delimiter", f"{text!r} is not one character", f"Give one, or its name: {known}."
        )
    return character


def _weight(table: Table, named: str | None, unit: str | None) -> Series:
    column = choose(table.path, table.columns, "weight", named, "--weight-column")
    if column.unconverted and unit is None:
        raise BadInputError(
            str(table.path),
            f"the weight {column.name!r} is in {column.unconverted!r}, which evencup does not convert",
            f"Convert it first; where it is in one of {', '.join(WEIGHT_UNITS)} after all, say so: --unit.",
        )
    return Series("scale", GRAM, column, table.quantities(column, "weight", unit))


def _times(table: Table, named: str | None, unit: str | None) -> tuple[Column, Times]:
    column = choose(table.path, table.columns, "time", named, "--time-column")
    cells, own_unit = table.times(column)
    if named is None and (both := _date_and_time(table)):
        date, clock = both
        column = replace(date, name=f"{date.name} {clock.name}")
        cells = [" ".join(pair) for pair in zip(table.cells(date), table.cells(clock), strict=True)]
    return column, read_times(cells, unit or own_unit or column.unit, table.delimiter)


def _date_and_time(table: Table) -> tuple[Column, Column] | None:
    """Find a date in one column and the time of day in another."""
    columns = [column for column in table.columns if column.kind == "time"]
    first = table.rows[0]
    dates = [column for column in columns if is_date_alone(first.cell(column.number))]
    clocks = [
        column for column in columns if column not in dates and looks_like_time(first.cell(column.number))
    ]
    return (dates[0], clocks[0]) if dates and clocks else None


def _temperatures(table: Table, named: Sequence[str] | None, taken: set[int]) -> list[Series]:
    if named is None:
        columns = [c for c in table.columns if c.kind == "temperature" and c.number not in taken]
    else:
        columns = [find_column(table.path, table.columns, name, "--temperature-column") for name in named]
    names = _channel_names(columns)
    return [
        Series(name, CELSIUS, column, table.quantities(column, "temperature", None))
        for name, column in zip(names, columns, strict=True)
    ]


def _channel_names(columns: Sequence[Column]) -> list[str]:
    """Name temperatures by their headings: ``kettle`` of ``Kettle temp (°C)``, else ``thermometer``."""
    names: list[str] = []
    for column in columns:
        stem = name = slug(column.own_words)[:28].rstrip("-") or "thermometer"
        copies = 1
        while name in (*names, "scale"):
            copies += 1
            name = f"{stem}-{copies}"
        names.append(name)
    return names


def _understood(
    sheet: Sheet, time: Column, times: Times, series: Sequence[Series], weight_unit: str | None
) -> dict[str, str]:
    weight, *temperatures = series
    unit = weight_unit or weight.column.unit
    words = {
        "encoding": sheet.encoding,
        **_delimiter_words(sheet),
        "time": f"{time.name!r} ({times.read_as})",
        "weight": f"{weight.column.name!r} (in {unit})" if unit else f"{weight.column.name!r} (taken for g)",
    }
    if temperatures:
        words["temperatures"] = ", ".join(
            f"{t.column.name!r} as {t.channel}" + (f" (in {t.column.unit})" if t.column.unit else "")
            for t in temperatures
        )
    return words


def _delimiter_words(sheet: Sheet) -> dict[str, str]:
    if not sheet.delimiter:
        return {}
    return {"delimiter": DELIMITER_NAMES.get(sheet.delimiter, sheet.delimiter)}


def _readings(times: Times, series: Sequence[Series], rows: Sequence[int]) -> Iterator[Reading]:
    origin_s = times.seconds[rows[0]] if times.counted_from_first else 0.0
    for n in rows:
        for one in series:
            if not math.isnan(one.values[n]):
                yield Reading(one.channel, times.seconds[n] - origin_s, one.values[n], one.unit)

"""Times as strangers write them, as seconds: numbers, clocks, dates."""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from statistics import median
from typing import Literal

import pandas as pd

from logger.recording.csv_columns import TIME_UNITS

DAY_S = 86400.0
HALF_A_DAY_S = 43200.0

Shape = Literal["numbers", "clock", "time of day", "dates"]

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?", re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?")
_CLOCK = re.compile(r"(\d{1,4}):([0-5]?\d(?:[.,]\d+)?)")
_TIME_OF_DAY = re.compile(r"T?(\d{1,3}):([0-5]?\d):([0-5]?\d(?:[.,]\d+)?)\s*([ap]\.?m\.?)?", re.IGNORECASE)
_DATE = re.compile(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}|\d{8}T\d{4,6}")
_ISO = re.compile(r"\d{4}-\d{1,2}-\d{1,2}")
_ZONE = re.compile(r"(?:Z|[+-]\d{2}:?\d{2})$")
_EPOCHS = ((1e9, 5e9, "s"), (1e12, 5e12, "ms"), (1e15, 5e15, "us"), (1e18, 5e18, "ns"))


@dataclass(frozen=True, slots=True)
class Times:
    """A column of times, read.

    :param seconds: of each row, NaN where the cell cannot be read; on the axis that the column has
    :param started: the wall clock at the first of them, UTC, where the column says so
    :param counted_from_first: whether the axis has no zero of its own, so that the first reading is one
    :param read_as: how the cells were understood, for the report
    """

    seconds: list[float]
    started: datetime | None
    counted_from_first: bool
    read_as: str


def number(text: str, decimal_comma: bool) -> float:
    """Read a number as written by hand or by a program; NaN where it is none or not finite."""
    text = text.replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "").replace("'", "")
    if decimal_comma:
        text = text.replace(".", "").replace(",", ".") if "," in text else text
    elif _THOUSANDS.fullmatch(text):
        text = text.replace(",", "")
    if not _NUMBER.fullmatch(text) or not text.isascii():
        return math.nan
    value = float(text)
    return value if math.isfinite(value) else math.nan


def has_decimal_comma(cells: Sequence[str], delimiter: str) -> bool:
    """Say whether a column's numbers are written with a decimal comma."""
    if delimiter == ",":
        # A comma inside of a quoted cell: 1,234.5 has both, 1234,5 has no point anywhere.
        with_comma = [cell for cell in cells if "," in cell]
        return bool(with_comma) and not any(_THOUSANDS.fullmatch(cell) for cell in with_comma)
    return any("," in cell for cell in cells) and not any(
        "," in cell and "." in cell and cell.rfind(".") > cell.rfind(",") for cell in cells
    )


def looks_like_time(cell: str) -> bool:
    """Say whether a cell could be a time that is no number."""
    return bool(_CLOCK.fullmatch(cell) or _TIME_OF_DAY.fullmatch(cell) or _DATE.match(cell))


def is_date_alone(cell: str) -> bool:
    """Say whether a cell is a date with no time of day."""
    return bool(_DATE.fullmatch(cell))


def read_times(cells: Sequence[str], unit: str | None, delimiter: str) -> Times:
    """Read a column of times.

    :param unit: of numbers: ``s``, ``ms`` ..., None where nothing says so
    """
    shape = _shape(cells)
    if shape == "dates":
        return _dates(cells)
    if shape == "time of day":
        seconds = _over_midnight([_time_of_day_s(cell) for cell in cells])
        return Times(seconds, None, True, "time of day")
    if shape == "clock":
        return Times([_clock_s(cell) for cell in cells], None, False, "minutes and seconds")
    comma = has_decimal_comma(cells, delimiter)
    return _numbers([number(cell, comma) for cell in cells], unit)


def _shape(cells: Sequence[str]) -> Shape:
    for cell in cells:
        if _DATE.match(cell) and not _NUMBER.fullmatch(cell):
            return "dates"
        if _TIME_OF_DAY.fullmatch(cell):
            return "time of day"
        if _CLOCK.fullmatch(cell):
            return "clock"
        if not math.isnan(number(cell, "," in cell)):
            return "numbers"
    return "numbers"


def _clock_s(cell: str) -> float:
    match = _CLOCK.fullmatch(cell)
    return 60.0 * int(match[1]) + float(match[2].replace(",", ".")) if match else math.nan


def _time_of_day_s(cell: str) -> float:
    match = _TIME_OF_DAY.fullmatch(cell)
    if not match:
        return math.nan
    hours = int(match[1])
    if match[4]:
        hours = hours % 12 + (12 if match[4][0] in "pP" else 0)
    return round(3600.0 * hours + 60.0 * int(match[2]) + float(match[3].replace(",", ".")), 9)


def _over_midnight(seconds: list[float]) -> list[float]:
    days, before, result = 0, -math.inf, []
    for second in seconds:
        if second < before - HALF_A_DAY_S:
            days += 1
        if not math.isnan(second):
            before = second
        result.append(second + days * DAY_S)
    return result


def _numbers(values: list[float], unit: str | None) -> Times:
    known = [value for value in values if not math.isnan(value)]
    if known and (epoch := _epoch_unit(known, unit)):
        return _epochs(values, known[0], epoch)
    unit, why = (unit, "") if unit else _guessed_unit(known)
    seconds = [value * TIME_UNITS[unit] for value in values]
    late = bool(known) and known[0] * TIME_UNITS[unit] > 3600
    return Times(seconds, None, late, f"numbers in {unit}{why}")


def _epochs(values: list[float], first: float, unit: str) -> Times:
    started = datetime.fromtimestamp(first * TIME_UNITS[unit], UTC)
    # Counted from the first before scaling, where the float has digits to spare.
    return Times(
        [(value - first) * TIME_UNITS[unit] for value in values], started, True, f"{unit} since 1970 (UTC)"
    )


def _epoch_unit(known: list[float], unit: str | None) -> str | None:
    middle = median(known)
    for low, high, epoch_unit in _EPOCHS:
        if low <= middle <= high and unit in (None, epoch_unit):
            return epoch_unit if low <= known[0] <= high else None
    return None


def _guessed_unit(known: list[float]) -> tuple[str, str]:
    """Take whole numbers in large steps for milliseconds: in seconds, such a brew would last for hours."""
    if len(known) >= 3 and all(value.is_integer() for value in known):
        step = median(b - a for a, b in pairwise(known))
        if step >= 20 and known[-1] - known[0] >= 20_000:
            return "ms", f" (whole numbers in steps of {step:g})"
    return "s", ""


def _dates(cells: Sequence[str]) -> Times:
    texts = [re.sub(r"(:\d\d),(\d)", r"\1.\2", cell) if _DATE.match(cell) else None for cell in cells]
    first = next(text for text in texts if text)
    day_first, sure = _day_order([text for text in texts if text])
    zoned = bool(_ZONE.search(first)) and ":" in first
    moments = _parsed(texts, day_first, iso=bool(_ISO.match(first)))
    known = moments.dropna()
    if known.empty:
        return Times([math.nan] * len(cells), None, True, "dates")
    seconds = (moments - known.iloc[0]).dt.total_seconds().tolist()
    started = _started(known.iloc[0], zoned) if sure else None
    words = "dates" if zoned else "dates, in this computer's time zone"
    return Times(seconds, started, True, words if sure else "dates; day or month first is not clear")


def _parsed(texts: list[str | None], day_first: bool, iso: bool) -> pd.Series[pd.Timestamp]:
    with warnings.catch_warnings():
        # pandas warns that a date may be read in two ways; day_first settles which.
        warnings.simplefilter("ignore")
        try:
            return pd.to_datetime(
                pd.Series(texts, dtype="object"),
                errors="coerce",
                utc=True,
                format="ISO8601" if iso else "mixed",
                dayfirst=day_first,
            )
        except (ValueError, OverflowError, TypeError):
            return pd.Series([pd.NaT] * len(texts), dtype="datetime64[ns, UTC]")


def _day_order(texts: Sequence[str]) -> tuple[bool, bool]:
    """Whether the day comes before the month, and whether that is sure."""
    if re.match(r"\d{4}|\d{8}T", texts[0]):
        return False, True
    parts = [re.split(r"[-/.]", text)[:2] for text in texts]
    if "." in texts[0][:3]:
        return True, True
    if any(int(first) > 12 for first, *_ in parts if first.isdigit()):
        return True, True
    return False, any(int(second) > 12 for _, second, *_ in parts if second.isdigit())


def _started(moment: pd.Timestamp, zoned: bool) -> datetime | None:
    plain = moment.to_pydatetime(warn=False)
    try:
        return plain if zoned else plain.replace(tzinfo=None).astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        return None

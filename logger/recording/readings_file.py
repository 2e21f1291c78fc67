"""Reads the lines of ``readings.csv``: fast where every line is good, carefully where one is not."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from drivers.reading import JOURNAL_HEADER, Reading, Status, parse_journal_line
from logger.errors import BadInputError

COLUMNS = tuple(JOURNAL_HEADER.split(","))

_NUMBER = rb"-?\d{1,40}+(?:\.\d{0,40}+)?(?:e[+-]?\d{1,2}+)?"
_STATUS = "|".join(status.value for status in Status).encode()
# What journal_line writes. Every text that this matches, parse_journal_line reads too, and pandas reads it
# the same way; what it does not match is left to the careful pass. Possessive: no line is looked at twice.
_GOOD_LINES = re.compile(
    rb"(?:%b,[A-Za-z0-9][A-Za-z0-9_-]{0,31}+,(?:%b)?,(?:g|\xc2\xb0C),(?:%b),(?:%b)?\n)*+"
    % (_NUMBER, _NUMBER, _STATUS, _NUMBER)
)


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that cannot be read: where it stands, and what is wrong with it."""

    number: int
    what: str


@dataclass(frozen=True, slots=True)
class Lines:
    """What a file of readings holds.

    :param frame: the readings of every good line, in the order of the file
    :param bad: the lines in the middle that cannot be read
    :param torn_bytes: length of an incomplete last line; 0 where the file ends with a whole one
    """

    frame: pd.DataFrame
    bad: tuple[BadLine, ...]
    torn_bytes: int


def read_lines(path: Path, data: bytes) -> Lines:
    """Read the bytes of a file of readings.

    :param path: for the message
    :raises BadInputError: when the file does not begin with the header of a recording
    """
    header, newline, body = data.removeprefix(b"\xef\xbb\xbf").partition(b"\n")
    if header.rstrip(b"\r") != JOURNAL_HEADER.encode() or not newline:
        raise _no_header(path, data)
    end = body.rfind(b"\n") + 1
    body, torn = body[:end], body[end:]
    if _GOOD_LINES.fullmatch(body):
        return Lines(_fast(body), (), len(torn))
    frame, bad = _careful(body)
    return Lines(frame, bad, len(torn))


def _no_header(path: Path, data: bytes) -> BadInputError:
    if not data:
        return BadInputError(
            str(path), "is empty", "It holds no reading: the recording stopped before it began."
        )
    first = data.split(b"\n", 1)[0][:60].decode(errors="replace").strip()
    return BadInputError(
        f"{path}, line 1",
        f"is {first!r}, where the header of a recording is {JOURNAL_HEADER!r}",
        "A CSV from elsewhere becomes a recording with: evencup import.",
    )


def _fast(body: bytes) -> pd.DataFrame:
    frame: pd.DataFrame = pd.read_csv(
        io.BytesIO(body),
        names=list(COLUMNS),
        header=None,
        index_col=False,
        dtype={
            "time_s": "float64",
            "channel": "str",
            "value": "float64",
            "unit": "str",
            "status": "str",
            "device_time_s": "float64",
        },
        keep_default_na=False,
        na_values={"value": [""], "device_time_s": [""]},
        encoding="utf-8",
        engine="c",
        **_exact_numbers(),
    )
    return frame


def _exact_numbers() -> dict[str, Any]:
    # pandas before 3.1 reads numbers slightly off (the last digit) unless asked not to; from 3.1 on it reads
    # them exactly, and warns when asked.
    version = tuple(int(part) for part in pd.__version__.split(".")[:2])
    return {} if version >= (3, 1) else {"float_precision": "round_trip"}


def _careful(body: bytes) -> tuple[pd.DataFrame, tuple[BadLine, ...]]:
    good: list[Reading] = []
    bad: list[BadLine] = []
    for number, line in enumerate(body.split(b"\n")[:-1], start=2):
        try:
            good.append(parse_journal_line(line.removesuffix(b"\r").decode()))
        except UnicodeDecodeError:
            bad.append(BadLine(number, "it is not UTF-8 text"))
        except ValueError as error:
            bad.append(BadLine(number, str(error)))
    return _frame(good), tuple(bad)


def _frame(readings: list[Reading]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "time_s": pd.Series([r.time_s for r in readings], dtype="float64"),
            "channel": pd.Series([r.channel for r in readings], dtype="str"),
            "value": pd.Series([r.value for r in readings], dtype="float64"),
            "unit": pd.Series([r.unit for r in readings], dtype="str"),
            "status": pd.Series([r.status.value for r in readings], dtype="str"),
            "device_time_s": pd.Series([r.device_time_s for r in readings], dtype="float64"),
        }
    )

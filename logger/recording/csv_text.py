"""A stranger's CSV as rows of cells: its encoding, its delimiter, where its table begins."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from logger.errors import BadInputError
from logger.recording.disk import unreadable

DELIMITERS = ("\t", ";", "|", ",")
DELIMITER_NAMES = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma", " ": "space"}

_COMMENT = ("#", "%", "//")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_SAMPLE_LINES = 200
_BINARY = re.compile("[\x00-\x08\x0e-\x1a\x1c-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of one row, and the number of the line that it ends on."""

    line: int
    cells: list[str]

    def cell(self, column: int) -> str:
        """One cell, without blanks around it; empty where the row is too short."""
        return self.cells[column].strip() if column < len(self.cells) else ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The rows of a file, comments and empty lines left out.

    :param delimiter: what stood between the cells; "" in a file that has its cells apart, such as Parquet
    """

    rows: list[Row]
    encoding: str
    delimiter: str


def read_sheet(path: Path, delimiter: str | None = None) -> Sheet:
    """Read a file of separated values.

    :param delimiter: what stands between cells, where it is known
    :raises BadInputError: when the file is missing, empty, or is no table of text
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise unreadable(path, error) from error
    text, encoding = _decode(path, data)
    lines = _numbered_lines(text)
    if not lines:
        raise BadInputError(str(path), "is empty", "Choose the file that holds the readings.")
    delimiter = delimiter or find_delimiter([line for _, line in lines[:_SAMPLE_LINES]])
    return Sheet(_rows(path, lines, delimiter), encoding, delimiter)


def find_delimiter(lines: Sequence[str]) -> str:
    """Find what stands between cells: that of which most lines have the same number.

    A semicolon, tab or bar wins over a comma, which may be a decimal comma.
    """
    best, best_share = ",", 0.0
    for delimiter in DELIMITERS:
        counts = Counter(line.count(delimiter) for line in lines)
        number, times = max(((n, times) for n, times in counts.items() if n), default=(0, 0), key=_by_times)
        share = times / len(lines) if number else 0.0
        if share > max(best_share, 0.5) or (share and not best_share):
            best, best_share = delimiter, share
        if best_share > 0.8:
            break
    return best


def _by_times(count: tuple[int, int]) -> int:
    return count[1]


def _decode(path: Path, data: bytes) -> tuple[str, str]:
    encoding = _encoding(data)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        encoding = "latin-1"
        text = data.decode(encoding)
    if _BINARY.search(text):
        raise BadInputError(
            str(path), "is not a text file", "Export the readings as CSV from the program that made it."
        )
    return text, encoding


def _encoding(data: bytes) -> str:
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            return encoding
    # UTF-16 without its mark: in Western text every second byte is zero.
    sample = data[:4096]
    if len(sample) >= 4 and sample[1::2].count(0) > 0.4 * len(sample):
        return "utf-16-le"
    if len(sample) >= 4 and sample[0::2].count(0) > 0.4 * len(sample):
        return "utf-16-be"
    return "utf-8"


def _numbered_lines(text: str) -> list[tuple[int, str]]:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return [
        (number, line)
        for number, line in enumerate(lines, start=1)
        if line.strip() and not line.lstrip().startswith(_COMMENT)
    ]


def _rows(path: Path, lines: list[tuple[int, str]], delimiter: str) -> list[Row]:
    # One line, one row: a cell that holds a line break has no place among readings, and a stray quotation
    # mark would otherwise swallow the rest of the file.
    rows = []
    for number, line in lines:
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error as error:
            raise BadInputError(
                f"{path}, line {number}", f"cannot be taken apart: {error}", "Look at that line."
            ) from error
        rows.append(Row(number, cells))
    return rows

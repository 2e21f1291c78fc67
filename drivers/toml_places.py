"""Where each field stands in a TOML text, so that a mistake names its line and a number can be replaced.

The standard library's reader drops positions. It has already judged the text when this scanner walks it,
so the scanner takes valid TOML for granted and only keeps count.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_KEY = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'|[A-Za-z0-9_-]+")
_STRING = re.compile(
    r"\"\"\"(?:\\.|[^\\])*?\"\"\"\"{0,2}"
    r"|'''.*?''''{0,2}"
    r"|\"(?:[^\"\\]|\\.)*\""
    r"|'[^']*'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}#\r\n]*[^,\]}#\r\n \t]")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a field stands.

    :param line: counted from 1
    :param start: offset of its value in the text; of its header, where it is a table
    :param end: offset just after
    """

    line: int
    start: int
    end: int


def find_places(text: str) -> dict[Path, Place]:
    """Find every key of a TOML text.

    :param text: valid TOML
    :return: by path; an array's elements count from 0, as in ``("stage", 1, "to_g")``
    """
    scanner = _Scanner(text)
    scanner.scan()
    return scanner.places


def line_of(places: dict[Path, Place], path: Path) -> int:
    """The line of a field; where it is missing, of the table that should hold it."""
    while path and path not in places:
        path = path[:-1]
    return places[path].line if path else 1


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.places: dict[Path, Place] = {}
        self._array_sizes: dict[Path, int] = {}
        self._line, self._counted = 1, 0

    def scan(self) -> None:
        table: Path = ()
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._assignment(table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self.text, self.at):
            self.at = match.end()

    def _take(self, mark: str) -> bool:
        found = self.text.startswith(mark, self.at)
        self.at += len(mark) if found else 0
        return found

    def _line_here(self) -> int:
        self._line += self.text.count("\n", self._counted, self.at)
        self._counted = self.at
        return self._line

    def _header(self) -> Path:
        line, start = self._line_here(), self.at
        is_array = self._take("[[") or not self._take("[")
        parts = self._key()
        self._take("]]" if is_array else "]")
        if is_array:
            path = self._resolved(parts[:-1]) + parts[-1:]
            self._array_sizes[path] = self._array_sizes.get(path, 0) + 1
        table = self._resolved(parts)
        self._note(table, Place(line, start, self.at))
        return table

    def _resolved(self, parts: Path) -> Path:
        """A header's name with the numbers of the array elements that it is inside."""
        path: Path = ()
        for part in parts:
            path += (part,)
            if path in self._array_sizes:
                path += (self._array_sizes[path] - 1,)
        return path

    def _key(self) -> Path:
        parts: Path = ()
        while True:
            self._skip(_SPACE)
            part = _KEY.match(self.text, self.at)
            if part is None:
                return parts
            self.at = part.end()
            parts += (_plain(part[0]),)
            self._skip(_SPACE)
            if not self._take("."):
                return parts

    def _assignment(self, table: Path) -> None:
        line = self._line_here()
        path = table + self._key()
        self._take("=")
        self._skip(_SPACE)
        start = self.at
        self._value(path)
        self.at = max(self.at, start + 1)  # whatever the text: onwards, never in circles
        self._note(path, Place(line, start, self.at))

    def _note(self, path: Path, place: Place) -> None:
        """Keep a place, and for the tables that it implies (``tolerance.start_s = 1``) the same line."""
        self.places[path] = place
        for size in range(1, len(path)):
            self.places.setdefault(path[:size], place)

    def _value(self, path: Path) -> None:
        if self._take("["):
            self._array(path)
        elif self._take("{"):
            self._inline_table(path)
        else:
            self._skip(_STRING if self.text[self.at : self.at + 1] in "\"'" else _SCALAR)

    def _array(self, path: Path) -> None:
        number = 0
        self._skip(_BLANK)
        while self.at < len(self.text) and not self._take("]"):
            line, start = self._line_here(), self.at
            self._value((*path, number))
            self.at = max(self.at, start + 1)
            self._note((*path, number), Place(line, start, self.at))
            self._skip(_BLANK)
            self._take(",")
            self._skip(_BLANK)
            number += 1

    def _inline_table(self, path: Path) -> None:
        self._skip(_BLANK)
        while self.at < len(self.text) and not self._take("}"):
            self._assignment(path)
            self._skip(_BLANK)
            self._take(",")
            self._skip(_BLANK)


def _plain(part: str) -> str:
    """A key without its quotes."""
    if part[0] not in "\"'":
        return part
    return str(tomllib.loads(f"key = {part}")["key"])

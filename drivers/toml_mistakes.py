"""What is wrong with a TOML file that somebody wrote by hand, each mistake with its line.

Shared by device descriptions here and by the target files of the logger.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from drivers.toml_places import Path, Place, find_places, line_of

Slips = Sequence[tuple[re.Pattern[str], str]]
"""What a line that cannot be read often is, and what to write instead."""

_AT = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_SAID_PLAINLY = {
    "Cannot overwrite a value": "this field stands in the file twice",
    "Cannot declare": "this table stands in the file twice",
    "Expected newline or end of document after a statement": "there is more on the line than one value",
    "Invalid value": "the value cannot be read",
    "Invalid statement": "this is no field and no table",
    "Expected '=' after a key in a key/value pair": "there is no = after the name",
    "Unterminated string": "the closing quotes are missing",
    "Unclosed array": "the closing ] is missing",
}
_SLIPS: Slips = (
    (re.compile(r"[“”„‘’«»]"), 'Use straight quotes: "...".'),
    (re.compile(r"=\s*\d+,\d"), "Write decimals with a point, as 15.5."),
    (re.compile(r"=\s*[\d.]+\s*[A-Za-z°%]"), "Write the number alone: the unit is in the field's name."),
    (re.compile(r"=\s*[A-Za-z]"), 'Put words in quotes: "...".'),
    (re.compile(r"=\s*(#.*)?$"), "Write a value after the =, or take the line out."),
)
_ANY_LINE = "Write each line as name = value, with words and times in quotes."


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to say about one field of a file, before its line is known.

    :param path: the field, as in ``("stage", 1, "to_g")``
    :param what: what is wrong, a clause without full stop
    :param remedy: what to write instead, a sentence
    """

    path: Path
    what: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Mistake:
    """A remark with its place in a file: something that its author should change.

    :param where: the file
    :param line: counted from 1
    :param field: as its author would say it: ``stage 2, to_g``
    :param what: what is wrong, a clause without full stop
    :param remedy: what to write instead, a sentence
    """

    where: str
    line: int
    field: str
    what: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.where}, {self.in_file}"

    @property
    def in_file(self) -> str:
        """The same without the file's name."""
        return f"line {self.line}{', ' * bool(self.field)}{self.field}: {self.what}. {self.remedy}"


class UnreadableTomlError(ValueError):
    """A text that is not TOML.

    :param mistake: the first thing wrong with it
    """

    def __init__(self, mistake: Mistake) -> None:
        self.mistake = mistake
        super().__init__(str(mistake))


def placed(remark: Remark, where: str, places: dict[Path, Place]) -> Mistake:
    """Give a remark its file and line."""
    return Mistake(where, line_of(places, remark.path), field_text(remark.path), remark.what, remark.remedy)


def field_text(path: Path) -> str:
    """A field as its author would say it; the elements of a list count from 1."""
    said = ""
    for part in path:
        said += f" {part + 1}" if isinstance(part, int) else f"{', ' * bool(said)}{part}"
    return said


def in_line_order(mistakes: Iterable[Mistake]) -> tuple[Mistake, ...]:
    """Sort mistakes as they stand in the file."""
    return tuple(sorted(mistakes, key=lambda mistake: mistake.line))


def message_parts(where: str, mistakes: Sequence[Mistake], thing: str) -> tuple[str, str, str]:
    """Put mistakes in one message: where they are, what they are, and the last one's remedy.

    :param mistakes: at least one
    :param thing: what the file is: ``target``, ``description``
    """
    first, last = mistakes[0], mistakes[-1]
    if len(mistakes) == 1:
        return f"{where}, line {first.line}{', ' * bool(first.field)}{first.field}", first.what, first.remedy
    lines = "".join(f"\n  {mistake.in_file}" for mistake in mistakes)
    what = f"{len(mistakes)} mistakes in this {thing}:{lines}".removesuffix(f". {last.remedy}")
    return where, what, last.remedy


def toml_text(data: bytes, where: str) -> str:
    """Read a file's bytes as text.

    :raises UnreadableTomlError: when they are not UTF-8
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"the byte {data[error.start]:#04x} is not UTF-8 text"
        raise UnreadableTomlError(Mistake(where, line, "", what, "Save the file as UTF-8.")) from error


def load_toml(text: str, where: str, slips: Slips = ()) -> tuple[dict[str, object], dict[Path, Place]]:
    """Read TOML, and where each field stands.

    :param where: the file, for messages
    :param slips: what is often written wrong in this kind of file, before what is in any
    :raises UnreadableTomlError: naming the line
    """
    try:
        return tomllib.loads(text), find_places(text)
    except tomllib.TOMLDecodeError as error:
        raise UnreadableTomlError(_syntax_mistake(text, where, str(error), (*slips, *_SLIPS))) from error
    except RecursionError:
        what = "brackets inside brackets, too deep to follow"
        raise UnreadableTomlError(Mistake(where, 1, "", what, _ANY_LINE)) from None
    except ValueError as error:  # an integer of thousands of digits
        what, remedy = "a number in this file is too long", "Look for one with thousands of digits."
        raise UnreadableTomlError(Mistake(where, 1, "", what, remedy)) from error


def _syntax_mistake(text: str, where: str, message: str, slips: Slips) -> Mistake:
    """What the TOML reader stumbled over, in plain words."""
    lines = text.split("\n")
    at = _AT.search(message)
    line = int(at[1]) if at and at[1] else max(len(text.rstrip().split("\n")), 1)
    said = message[: at.start()] if at else message
    what = next((plain for start, plain in _SAID_PLAINLY.items() if said.startswith(start)), "")
    written = lines[line - 1] if line <= len(lines) else ""
    key = re.match(r"\s*([A-Za-z0-9_-]+)\s*=", written)
    remedy = next((remedy for slip, remedy in slips if slip.search(written)), _ANY_LINE)
    if what.endswith("twice"):
        remedy = "Keep one of the two."
    return Mistake(
        where, line, key[1] if key else "", what or f"not TOML: {said[:1].lower()}{said[1:]}", remedy
    )

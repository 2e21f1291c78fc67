"""One table of a TOML file, read field by field; what is wrong is kept, not raised, so that all comes out.

A number that cannot be read becomes NaN: no comparison with NaN is true, so the checks that follow stay
silent about a field that has been complained of already.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from typing import ClassVar, Self

from drivers.toml_mistakes import Remark
from drivers.toml_places import Path

NOT_READ = math.nan


class TomlForm:
    """A table of the file and the remarks about it.

    :param table: as the TOML reader gave it
    :param path: where it is in the file
    :param kind: which fields it may have: a key of ``fields``
    :param remarks: the list that remarks go to, shared by all forms of one file
    """

    fields: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    """The fields of each kind of table."""

    homes: ClassVar[Mapping[str, str]] = {}
    """Where in the file the fields of each kind of table stand."""

    def __init__(self, table: Mapping[str, object], path: Path, kind: str, remarks: list[Remark]) -> None:
        self._table, self.path, self.kind, self.remarks = table, path, kind, remarks
        for key in table:
            if key not in self.fields[kind]:
                self.remark(key, "there is no such field here", self._suggestion(key))

    def __contains__(self, key: str) -> bool:
        return key in self._table

    def remark(self, key: str, what: str, remedy: str) -> None:
        """Note something wrong with one field."""
        self.remarks.append(Remark((*self.path, key), what, remedy))

    def text(self, key: str, *, required: bool = False, example: str = "...") -> str:
        """Read words; empty where the field is absent or cannot be read."""
        remedy = f'Write {key} = "{example}".'
        value = self._table.get(key)
        if value is None:
            self._missing(key, required, remedy)
            return ""
        if not isinstance(value, str):
            self.remark(key, f"{kind_of(value)} where words belong", remedy)
            return ""
        if required and not value.strip():
            self.remark(key, "it is empty", remedy)
        return value

    def number(self, key: str, *, required: bool = False, example: str = "5.0") -> float | None:
        """Read a number; None where it is absent, NaN where it cannot be read."""
        remedy = f"Write {key} = {example}: a plain number, no quotes, no unit."
        value = self._table.get(key)
        if value is None:
            return self._missing(key, required, remedy)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.remark(key, f"{kind_of(value)} where a number belongs", remedy)
            return NOT_READ
        return self._finite(key, value, remedy)

    def needed(self, key: str, example: str) -> float:
        """Read a number that must be there; NaN where it is not."""
        value = self.number(key, required=True, example=example)
        return NOT_READ if value is None else value

    def form(self, key: str) -> Self | None:
        """The table under a key; None where it is absent or no table."""
        value = self._table.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.remark(
                key, f"{kind_of(value)} where a table belongs", f"Write a line [{key}], its fields below."
            )
            return None
        return type(self)(value, (*self.path, key), key, self.remarks)

    def forms(self, key: str) -> list[Self]:
        """The tables of an array; empty where it is absent or no array of tables."""
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            header = ".".join((*(str(part) for part in self.path if isinstance(part, str)), key))
            remedy = f"Write [[{header}]] in double square brackets, once for each {key}."
            self.remark(key, f"{kind_of(value)} where a list of {key}s belongs", remedy)
            return []
        return [
            type(self)(each, (*self.path, key, number), key, self.remarks)
            for number, each in enumerate(value)
        ]

    def _missing(self, key: str, required: bool, remedy: str) -> float | None:
        if not required:
            return None
        self.remark(key, "it is missing", remedy)
        return NOT_READ

    def _finite(self, key: str, value: float, remedy: str) -> float:
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.remark(key, f"{number} is no amount", remedy)
            return NOT_READ
        return number

    def _suggestion(self, key: str) -> str:
        """The nearest known spelling, or the table where a field of this name belongs."""
        homes = [home for home, names in self.fields.items() if key in names and home in self.homes]
        if homes:
            return f"{key} belongs {self.homes[homes[0]]}."
        near = difflib.get_close_matches(key.lower(), self.fields[self.kind], n=1, cutoff=0.6)
        if near:
            return f"Did you mean {near[0]}?"
        return f"The fields here are {', '.join(self.fields[self.kind])}."


def kind_of(value: object) -> str:
    """What a value is, in plain words."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, str):
        return f"{shown(value)} in quotes"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, dict):
        return "one table"
    return "a list" if isinstance(value, Sequence) else "a date or a time of day"


def shown(value: object) -> str:
    """A value short enough to print; a number of thousands of digits is not."""
    try:
        text = repr(value)
    except ValueError:
        return "a very long number"
    return text if len(text) <= 40 else f"{text[:37]}..."

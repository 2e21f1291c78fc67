"""One table of a target file, read field by field; times as brewers write them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from drivers.clock import clock_s
from drivers.toml_form import NOT_READ, TomlForm, kind_of, shown
from logger.target.calls import WORDS

__all__ = ["FIELDS", "NOT_READ", "Form"]

FIELDS: dict[str, tuple[str, ...]] = {
    "": (
        "title", "method", "dose_g", "water_c", "end", "coffee", "grind", "notes", "keep",
        "tolerance", "stage", "shot", "calls",
    ),
    "tolerance": ("start_s", "weight_g", "flow_g_s", "water_c", "end_s"),
    "stage": ("name", "start", "to_g", "flow_g_s", "duration_s", "water_c", "tolerance"),
    "shot": ("yield_g", "time", "first_drip"),
    "calls": ("volume", "language", "voice", "tones", "speech", "count_s", "say", "words"),
    "words": WORDS,
}  # fmt: skip


class Form(TomlForm):
    """A table of a target file and the remarks about it."""

    fields: ClassVar[Mapping[str, tuple[str, ...]]] = FIELDS
    homes: ClassVar[Mapping[str, str]] = {
        "": "above the first line in square brackets",
        "tolerance": "under [tolerance]",
        "stage": "under its [[stage]]",
        "shot": "under [shot]",
        "calls": "under [calls]",
    }

    def time_s(self, key: str, *, required: bool = False, example: str = "0:45") -> float | None:
        """Read a time as seconds; None where it is absent, NaN where it cannot be read."""
        remedy = f'Write {key} = "{example}" (minutes:seconds, in quotes), or a number of seconds.'
        value = self._table.get(key)
        if value is None:
            return self._missing(key, required, remedy)
        return self._clock(key, value, remedy)

    def window_s(self, key: str, example: str, *, required: bool = False) -> tuple[float, float] | None:
        """Read an earliest and a latest time; None where absent, NaN where they cannot be read."""
        remedy = f"Write {key} = {example}: the earliest and the latest."
        value = self._table.get(key)
        if value is None:
            return None if self._missing(key, required, remedy) is None else (NOT_READ, NOT_READ)
        if not isinstance(value, list) or len(value) != 2:
            self.remark(key, f"{kind_of(value)} where two times belong", remedy)
            return NOT_READ, NOT_READ
        return self._clock(key, value[0], remedy), self._clock(key, value[1], remedy)

    def truth(self, key: str, usual: bool) -> bool:
        """Read true or false; the usual where it is absent or cannot be read."""
        value = self._table.get(key, usual)
        if isinstance(value, bool):
            return value
        self.remark(key, f"{kind_of(value)} where true or false belongs", f"Write {key} = true, or false.")
        return usual

    def words(self, key: str, known: Sequence[str]) -> list[str] | None:
        """Read a list of known words; None where it is absent or cannot be read."""
        value = self._table.get(key)
        if value is None:
            return None
        remedy = f"Write a list in square brackets of some of: {', '.join(known)}."
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            self.remark(key, f"{kind_of(value)} where a list of words belongs", remedy)
            return None
        unknown = [each for each in value if each not in known]
        if unknown:
            self.remark(key, f"{shown(unknown[0])} is none of them", remedy)
            return None
        return value

    def _clock(self, key: str, value: object, remedy: str) -> float:
        try:
            return clock_s(value)
        except (ValueError, OverflowError):
            self.remark(key, f"{shown(value)} is not a time", remedy)
            return NOT_READ

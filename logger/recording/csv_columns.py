"""Which column of a stranger's CSV is what, and in which unit, by its heading."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from logger.errors import BadInputError

Kind = Literal["time", "weight", "temperature"]

# g per unit: avoirdupois ounce and pound as defined by the international agreement of 1959.
WEIGHT_UNITS = {"g": 1.0, "kg": 1000.0, "mg": 0.001, "oz": 28.349523125, "lb": 453.59237}
TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0}
TEMPERATURE_UNITS = ("°C", "°F", "K")

_SPELLINGS = {
    "g": "g gr gram grams gramm gramme grammes gramos grammi",
    "kg": "kg kilogram kilograms kilogramm kilogramme kilogrammes kilo kilos",
    "mg": "mg milligram milligrams milligramm",
    "oz": "oz ounce ounces",
    "lb": "lb lbs pound pounds",
    "s": "s sec secs second seconds sekunde sekunden seconde secondes segundos secondi",
    "ms": "ms msec msecs millis millisecond milliseconds millisekunden",
    "us": "us µs μs usec micros microsecond microseconds",
    "ns": "ns nsec nanos nanosecond nanoseconds",
    "min": "min mins minute minutes minuten",
    "h": "h hr hrs hour hours",
    "°C": "°c ℃ c degc deg_c celsius centigrade",
    "°F": "°f ℉ f degf deg_f fahrenheit",
    "K": "k kelvin",
}
UNIT_BY_SPELLING = {word: unit for unit, words in _SPELLINGS.items() for word in words.split()}

# Units that a weight may be in and that are not converted here: to take one of them for g would be wrong.
_UNCONVERTED_SPELLINGS = """
    st stone stones t ton tons tonne tonnes tn mt cwt hundredweight quintal zentner centner pfund
    gn grain grains dr dram drams dwt pennyweight ozt ct carat carats karat tael catty jin momme slug slugs
    hg hectogram hectograms dag dkg decagram decagrams dekagram dekagramm dg decigram decigrams
    cg centigram centigrams ug µg μg mcg microgram micrograms ng nanogram nanograms
    n newton newtons kn kgf gf lbf
"""
_UNCONVERTED = frozenset(_UNCONVERTED_SPELLINGS.split())

# English first, then what a neighbour's program may write.
_NAMES: dict[Kind, str] = {
    "time": """
        time timestamp datetime date elapsed t clock
        zeit zeitstempel uhrzeit datum temps heure tiempo hora tempo ora tid tijd
    """,
    "weight": """
        weight weights wt mass scale balance
        gewicht masse waage poids peso massa vekt vikt
    """,
    "temperature": """
        temp temperature temperatures thermometer thermocouple probe
        temperatur temperatura température
    """,
}
_KIND_BY_NAME: dict[str, Kind] = {name: kind for kind, names in _NAMES.items() for name in names.split()}
# A column about a weight that is none: what was wanted, how fast it changed, how it was written.
_NOT_A_VALUE = frozenset(
    {"target", "setpoint", "goal", "wanted", "rate", "flow", "change", "delta", "unit", "units", "status"}
    | {"stable", "state", "count", "number", "id"}
)
_BRACKET = re.compile(r"[(\[{<]([^()\[\]{}<>]*)[)\]}>]?")
_WORD = re.compile(r"[^\W\d_]+|[°℃℉µμ]+[^\W\d_]*", re.UNICODE)


@dataclass(frozen=True, slots=True)
class Column:
    """A column by its heading.

    :param number: its place, from 0
    :param name: its heading as written, or ``column 1`` where there is none
    :param kind: what it holds, where the heading says so
    :param unit: of its values, where the heading says so
    :param words: the heading without its unit, in lower case
    :param unconverted: a unit of weight that the heading names and evencup does not convert; or ""
    """

    number: int
    name: str
    kind: Kind | None = None
    unit: str | None = None
    words: tuple[str, ...] = ()
    unconverted: str = ""

    @property
    def rank(self) -> int:
        """Lower for a heading that says it with fewer words."""
        return len(self.words)

    @property
    def own_words(self) -> str:
        """What the heading says beyond the kind: ``kettle`` of ``Kettle temp (°C)``; or ""."""
        return " ".join(word for word in self.words if word not in _KIND_BY_NAME)


def read_heading(number: int, text: str, unit_text: str = "") -> Column:
    """Understand the heading of a column: ``Weight (kg)``, ``time_ms``, ``temp [F]``.

    What stands in brackets counts only where it is a unit: it may as well be an instrument's number.

    :param unit_text: what stands under the heading, where a second row holds the units
    """
    name = text.strip() or f"column {number + 1}"
    beside = [unit_text.strip("()[]{} "), *_BRACKET.findall(text)]
    in_brackets = [known_unit(part) for part in beside]
    words = [word.lower() for word in _WORD.findall(_BRACKET.sub(" ", text))]
    unit = next((found for found in in_brackets if found), None)
    if unit is None and words and (found := UNIT_BY_SPELLING.get(words[-1])):
        unit = found
        words = words[:-1] or words
    kind = _kind(words, unit)
    if unit is not None and kind is not None and kind != kind_of_unit(unit):
        unit = None
    unconverted = next((part.strip() for part in beside if is_unconverted(part)), "") if unit is None else ""
    return Column(number, name, kind, unit, tuple(words), unconverted)


def known_unit(text: str) -> str | None:
    """Read a unit in any usual spelling; None where it is none."""
    return UNIT_BY_SPELLING.get(_unit_word(text))


def is_unconverted(text: str) -> bool:
    """Say whether a text is a unit of weight that is not converted here: stone, tonne, grain."""
    word = _unit_word(text)
    return word.startswith("troy ") or word.removeprefix("metric ") in _UNCONVERTED


def _unit_word(text: str) -> str:
    return unicodedata.normalize("NFC", text).strip().strip(".").lower().replace("° ", "°").replace("º", "°")


def kind_of_unit(unit: str) -> Kind:
    """What is measured in a unit."""
    if unit in WEIGHT_UNITS:
        return "weight"
    return "time" if unit in TIME_UNITS else "temperature"


def _kind(words: Sequence[str], unit: str | None) -> Kind | None:
    if _NOT_A_VALUE.intersection(words):
        return None
    kinds = [_KIND_BY_NAME[word] for word in words if word in _KIND_BY_NAME]
    # "T [°C]", "scale temp": the unit knows better than the first word, and the last word than the others.
    if unit is not None and (not kinds or kind_of_unit(unit) in kinds or kinds[-1] == "time"):
        return kind_of_unit(unit)
    return kinds[-1] if kinds else None


def choose(path: Path, columns: Sequence[Column], kind: Kind, named: str | None, option: str) -> Column:
    """Choose the column of a kind: the one that was named, or the one whose heading says it most plainly.

    :param named: a heading, or a column's number from 1
    :param option: what the user may say to name it
    :raises BadInputError: naming the columns that there are
    """
    if named is not None:
        return find_column(path, columns, named, option)
    candidates = [column for column in columns if column.kind == kind]
    if not candidates:
        raise BadInputError(
            str(path),
            f"no {kind} column was recognised among: {listed(columns)}",
            f"Name it, by heading or number: {option} NAME.",
        )
    return min(candidates, key=lambda column: (bool(column.unconverted), column.rank, column.number))


def find_column(path: Path, columns: Sequence[Column], named: str, option: str) -> Column:
    """Find the column that was named: by heading, whatever its case, or by its number from 1.

    :raises BadInputError: naming the columns that there are
    """
    wanted = named.strip().casefold()
    for column in columns:
        if column.name.casefold() == wanted:
            return column
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted) <= len(columns):
        return columns[int(wanted) - 1]
    raise BadInputError(
        str(path), f"there is no column {named!r} among: {listed(columns)}", f"Name one of them: {option}."
    )


def listed(columns: Sequence[Column]) -> str:
    """The headings, for a message."""
    shown = ", ".join(repr(column.name) for column in columns[:12])
    return shown + (f" and {len(columns) - 12} more" if len(columns) > 12 else "")

"""What can be noted of a brew after it was recorded, each kind with its own fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, ClassVar, Literal, Self, get_args

from drivers.reading import is_channel_name
from logger.recording.note_fields import (
    read_label,
    read_number,
    read_number_if_given,
    read_truth,
    read_words,
)

ReadingUnit = Literal["%", "°Bx"]
When = Literal["called", "tasted"]

INTENSITIES = ("acidity", "sweetness", "bitterness", "body", "finish", "liking")
"""What is given as a number: five of the cup, and how well it was liked."""

WORDS = ("aroma", "flavour")
"""What is given in words, the brewer's own."""

STRONGEST = 15.0
"""The end of the scale: 0 is not there at all, 15 as strong as it gets."""

LONGEST_TEXT = 2000
_MOST_READINGS = 50


@dataclass(frozen=True, slots=True)
class StrengthNote:
    """What a refractometer showed of the cup.

    :param readings: as they were shown, at least one
    :param unit: ``%`` of dissolved solids, or ``°Bx``
    :param step: of the display
    :param corrected: whether the instrument corrects for the sample's temperature by itself
    :param sample_c: the sample's temperature, None where it was not noted
    :param zero_c: that of the water on which the instrument was set to nought; None: its maker's 20 °C
    :param accuracy: how far the instrument may be off, to either side, in the unit; None: the usual
    :param coefficient: per cent of solids for each °Bx, and its standard uncertainty; None where not in °Bx
    """

    kind: ClassVar[str] = "strength"
    readings: tuple[float, ...]
    unit: ReadingUnit = "%"
    step: float = 0.01
    corrected: bool = True
    sample_c: float | None = None
    zero_c: float | None = None
    accuracy: float | None = None
    coefficient: float | None = None
    coefficient_sd: float | None = None

    @property
    def key(self) -> str:
        """What a later note of the same key takes the place of."""
        return self.kind

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Self:
        """Read it from its fields.

        :raises ValueError: when they cannot be such a note
        """
        readings = given.get("readings")
        if not isinstance(readings, list) or not 1 <= len(readings) <= _MOST_READINGS:
            raise ValueError("readings is no list of numbers")
        unit = given.get("unit", "%")
        if unit not in get_args(ReadingUnit):
            raise ValueError("unit is neither % nor °Bx")
        return cls(
            readings=tuple(read_number({"readings": one}, "readings", 0.0, 100.0) for one in readings),
            unit=unit,
            step=read_number(given, "step", 1e-6, 10.0, usual=0.01),
            corrected=read_truth(given, "corrected", usual=True),
            sample_c=read_number_if_given(given, "sample_c", 0.0, 100.0),
            zero_c=read_number_if_given(given, "zero_c", 0.0, 100.0),
            accuracy=read_number_if_given(given, "accuracy", 0.0, 10.0),
            coefficient=read_number_if_given(given, "coefficient", 0.1, 2.0),
            coefficient_sd=read_number_if_given(given, "coefficient_sd", 0.0, 1.0),
        )


@dataclass(frozen=True, slots=True)
class WeighedNote:
    """A weight that was read off a scale: the beverage, or the dose.

    :param step_g: of that scale's display
    """

    what: Literal["beverage", "dose"]
    grams: float
    step_g: float = 0.1

    @property
    def kind(self) -> str:
        """What it is of."""
        return self.what

    @property
    def key(self) -> str:
        """What a later note of the same key takes the place of."""
        return self.what

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Self:
        """Read it from its fields.

        :raises ValueError: when they cannot be such a note
        """
        step_g = read_number(given, "step_g", 1e-4, 100.0, usual=0.1)
        return cls(given["kind"], read_number(given, "grams", 0.01, 100_000.0), step_g)


@dataclass(frozen=True, slots=True)
class MarkNote:
    """A moment of the brew: ``dry``, ``served``, ``pump``, or the brewer's own.

    :param after_s: seconds after the brew's start, negative before it
    """

    kind: ClassVar[str] = "mark"
    name: str
    after_s: float

    @property
    def key(self) -> str:
        """What a later note of the same key takes the place of."""
        return f"{self.kind}:{self.name}"

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Self:
        """Read it from its fields.

        :raises ValueError: when they cannot be such a note
        """
        name = read_label(given, "name")
        if not is_channel_name(name):
            raise ValueError("name is none: letters, digits, - and _, at most 32")
        return cls(name, read_number(given, "after_s", -86_400.0, 86_400.0))


@dataclass(frozen=True, slots=True)
class TasteNote:
    """How the cup was called to taste, or did taste, to one person.

    :param taster: initials, or any label; ``""`` for the brewer
    :param intensities: of ``INTENSITIES`` those that were given, 0 to 15
    :param words: of ``WORDS`` those that were given
    """

    when: When
    taster: str
    intensities: Mapping[str, float]
    words: Mapping[str, tuple[str, ...]]

    @property
    def kind(self) -> str:
        """Called before, or tasted after."""
        return self.when

    @property
    def key(self) -> str:
        """Whose it is: what a later note says of the same things takes their place."""
        return f"{self.when}:{self.taster}"

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Self:
        """Read it from its fields.

        :raises ValueError: when they cannot be such a note
        """
        intensities = {
            name: read_number(given, name, 0.0, STRONGEST) for name in INTENSITIES if name in given
        }
        words = {name: read_words(given, name) for name in WORDS if name in given}
        if not intensities and not words:
            raise ValueError("it says nothing of the taste")
        return cls(given["kind"], read_label(given, "taster", usual=""), intensities, words)

    def with_later(self, later: TasteNote) -> TasteNote:
        """The same with what was said later, which wins."""
        return TasteNote(
            self.when,
            self.taster,
            {**self.intensities, **later.intensities},
            {**self.words, **later.words},
        )


@dataclass(frozen=True, slots=True)
class TextNote:
    """Anything, in the brewer's words; none takes the place of another."""

    kind: ClassVar[str] = "text"
    text: str

    @property
    def key(self) -> str:
        """All are kept together."""
        return self.kind

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Self:
        """Read it from its fields.

        :raises ValueError: when they cannot be such a note
        """
        text = given.get("text")
        if not isinstance(text, str) or not text.strip() or len(text) > LONGEST_TEXT:
            raise ValueError(f"text is no words, {LONGEST_TEXT} letters at most")
        return cls(text)


@dataclass(frozen=True, slots=True)
class WithdrawnNote:
    """What was noted under a key before this no longer counts."""

    kind: ClassVar[str] = "withdrawn"
    what: str

    @property
    def key(self) -> str:
        """What it takes back."""
        return self.what

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Self:
        """Read it from its fields.

        :raises ValueError: when they cannot be such a note
        """
        what = given.get("what")
        if not isinstance(what, str) or not what:
            raise ValueError("what is not said")
        return cls(what)


What = StrengthNote | WeighedNote | MarkNote | TasteNote | TextNote | WithdrawnNote

KINDS: Mapping[str, type[What]] = {
    "strength": StrengthNote,
    "beverage": WeighedNote,
    "dose": WeighedNote,
    "mark": MarkNote,
    "called": TasteNote,
    "tasted": TasteNote,
    "text": TextNote,
    "withdrawn": WithdrawnNote,
}


def facts_of(what: What) -> dict[str, Any]:
    """Give a note's fields as plain data, those that are not known left out."""
    if isinstance(what, TasteNote):
        words = {name: list(said) for name, said in what.words.items()}
        return {"kind": what.kind, "taster": what.taster, **what.intensities, **words}
    if isinstance(what, WeighedNote):
        return {"kind": what.kind, "grams": what.grams, "step_g": what.step_g}
    given = {field.name: getattr(what, field.name) for field in fields(what)}
    plain = {name: list(value) if isinstance(value, tuple) else value for name, value in given.items()}
    return {"kind": what.kind, **{name: value for name, value in plain.items() if value is not None}}

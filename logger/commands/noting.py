"""What was typed after ``evencup note`` as notes: the words of the command line, read and checked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from logger.cup.settings import Settings
    from logger.recording import Recording
    from logger.recording.note_kinds import StrengthNote, What
    from logger.recording.notes import Noted

_STILL_S = 600.0
"""A cup may be served so long after its recording has ended."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed, as it was typed; empty where an option was not given."""

    strength: Sequence[str] = ()
    brix: Sequence[str] = ()
    brix_coefficient: float | None = None
    corrected: bool | None = None
    sample_c: float | None = None
    zero_c: float | None = None
    beverage: str = ""
    dose: str = ""
    marks: Sequence[str] = ()
    called: Sequence[str] = ()
    tasted: Sequence[str] = ()
    taster: str = ""
    texts: Sequence[str] = ()
    withdrawn: Sequence[str] = ()


def notes_typed(typed: Typed, settings: Settings, noted: Noted) -> list[What]:
    """Read all that was typed; nothing of it counts where one part cannot be read.

    :param noted: what was noted before: only that can be withdrawn
    :raises BadInputError: naming the option, what is wrong, and what to write
    """
    from logger.recording.note_kinds import TextNote

    notes: list[What] = [*_withdrawn(typed, noted), *_strengths(typed, settings)]
    notes += [_weighed("beverage", typed.beverage)] if typed.beverage else []
    notes += [_weighed("dose", typed.dose)] if typed.dose else []
    notes += [_mark(text) for text in typed.marks]
    notes += _tastes(typed)
    notes += [_checked("--text", TextNote, {"text": text}, "Write a few words.") for text in typed.texts]
    return notes


def check_marks(recording: Recording, notes: Sequence[What]) -> None:
    """Refuse a moment at which nobody was brewing, or that counts from a brew which is not there.

    :raises BadInputError: naming the mark
    """
    from drivers.clock import clock_text
    from logger.compare import assess
    from logger.errors import BadInputError
    from logger.recording.note_kinds import MarkNote

    marks = [note for note in notes if isinstance(note, MarkNote)]
    if not marks:
        return
    start_s = assess(recording).analysis.start_s
    if start_s is None:
        raise BadInputError(
            "--mark", "no brew was found in this recording, from whose start it would count", "Leave it out."
        )
    last_s = float(recording.readings["time_s"].max())
    for mark in marks:
        if not 0.0 <= start_s + mark.after_s <= last_s + _STILL_S:
            raise BadInputError(
                f"--mark {mark.name}",
                f"the recording runs from {clock_text(-start_s)} to {clock_text(last_s - start_s)}, "
                "counted from the brew's start",
                "Write minutes:seconds as the report counts them, as dry=2:58.",
            )


def _withdrawn(typed: Typed, noted: Noted) -> list[What]:
    from logger.errors import BadInputError
    from logger.recording.note_kinds import WithdrawnNote

    known = list(dict.fromkeys(note.what.key for note in noted.in_force))
    for what in typed.withdrawn:
        if what not in known:
            there = ", ".join(known) or "nothing yet"
            raise BadInputError(f"--withdraw {what}", "that is not noted", f"Noted are: {there}.")
    return [WithdrawnNote(what) for what in typed.withdrawn]


def _strengths(typed: Typed, settings: Settings) -> list[What]:
    from logger.errors import BadInputError

    if typed.strength and typed.brix:
        raise BadInputError("--brix", "--strength is given too", "Note what the instrument showed, once.")
    if not typed.strength and not typed.brix:
        lone = [
            name
            for name, value in (
                ("--brix-coefficient", typed.brix_coefficient),
                ("--sample", typed.sample_c),
                ("--zero", typed.zero_c),
                ("--uncorrected", typed.corrected),
            )
            if value is not None
        ]
        if lone:
            raise BadInputError(
                lone[0], "says something of a reading, and there is none", "Add --strength 1.35."
            )
        return []
    return [_strength(typed, settings)]


def _strength(typed: Typed, settings: Settings) -> StrengthNote:
    from logger.errors import BadInputError
    from logger.recording.note_kinds import StrengthNote

    corrected = settings.corrected if typed.corrected is None else typed.corrected
    is_brix = bool(typed.brix)
    option, shown = ("--brix", typed.brix) if is_brix else ("--strength", typed.strength)
    if not corrected and typed.sample_c is None:
        raise BadInputError(
            option,
            "the instrument does not correct for temperature, and the sample's is not said",
            "Add --sample 24.5, in °C, and --zero with that of the water it was zeroed on.",
        )
    if typed.brix_coefficient is not None and not is_brix:
        raise BadInputError("--brix-coefficient", "no --brix is given", "Leave it out, or note --brix.")
    coefficient = settings.brix_coefficient if typed.brix_coefficient is None else typed.brix_coefficient
    accuracy = settings.accuracy_percent
    given = {
        "readings": [_amount(option, text) for text in shown],
        "unit": "°Bx" if is_brix else "%",
        "step": max(_step(text) for text in shown),
        "corrected": corrected,
        "sample_c": typed.sample_c,
        "zero_c": typed.zero_c,
        "accuracy": accuracy / coefficient if accuracy is not None and is_brix else accuracy,
        "coefficient": coefficient if is_brix else None,
        "coefficient_sd": settings.brix_coefficient_sd if is_brix else None,
    }
    note: StrengthNote = _checked(option, StrengthNote, given, "Write what it showed, as 1.35.")
    highest = max(note.readings)
    if not min(note.readings) >= 0.05 or highest > 35.0:
        raise BadInputError(
            option,
            f"{highest:g} is no strength of a coffee: filter has 1 to 2 %, espresso 6 to 20 % (common "
            f"practice)",
            "Write what the instrument showed, as 1.35.",
        )
    return note


def _weighed(what: str, text: str) -> What:
    from logger.recording.note_kinds import WeighedNote

    given = {"kind": what, "grams": _amount(f"--{what}", text), "step_g": _step(text)}
    note: What = _checked(f"--{what}", WeighedNote, given, "Write grams as the scale showed, as 238.0.")
    return note


def _mark(text: str) -> What:
    from drivers.clock import clock_s
    from logger.errors import BadInputError
    from logger.recording.note_kinds import MarkNote

    remedy = "Write a name and minutes:seconds from the brew's start, as dry=2:58."
    name, equals, when = text.partition("=")
    when = when.strip()
    sign = -1.0 if when.startswith("-") else 1.0
    bare = when.removeprefix("-")
    try:
        after_s = sign * clock_s(float(bare) if ":" not in bare else bare)
    except ValueError:
        what = "the time is missing" if not equals or not when else f"{when!r} is not a time"
        raise BadInputError(f"--mark {text}", what, remedy) from None
    note: What = _checked(f"--mark {text}", MarkNote, {"name": name.strip(), "after_s": after_s}, remedy)
    return note


def _tastes(typed: Typed) -> list[What]:
    from logger.cup.tasting import parse_taste
    from logger.errors import BadInputError

    tastes: list[What] = []
    said: list[tuple[Any, Sequence[str]]] = [("called", typed.called), ("tasted", typed.tasted)]
    if typed.taster and not any(texts for _, texts in said):
        raise BadInputError("--by", "nothing was called or tasted", "Add --tasted 'acidity=8 flavour=plum'.")
    for when, texts in said:
        for text in texts:
            try:
                note = parse_taste(when, typed.taster, text)
            except ValueError as error:
                remedy = "Write, as 'acidity=9 body=6 flavour=plum, dried fig'."
                raise BadInputError(f"--{when}", str(error), remedy) from None
            from logger.recording.note_kinds import facts_of

            remedy = "Write a label of at most 40 letters."
            tastes.append(_checked(f"--{when}", type(note), facts_of(note), remedy))
    return tastes


def _checked(option: str, kind: type[Any], given: dict[str, Any], remedy: str) -> Any:
    """Let the file's own reader judge a note before it is written."""
    from logger.errors import BadInputError

    try:
        return kind.of(given)
    except ValueError as error:
        raise BadInputError(option, str(error), remedy) from None


def _amount(option: str, text: str) -> float:
    """Read a number as it was typed.

    :raises BadInputError: when it is none
    """
    from logger.errors import BadInputError

    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in text:
        remedy = "Write decimals with a point, and no unit."
        raise BadInputError(option, f"{text!r} is no number", remedy) from None
    return value


def _step(text: str) -> float:
    """The step of a display, from the digits that it showed: 1.35 has steps of 0.01."""
    mantissa = text.lower().partition("e")[0]
    return float(10.0 ** -len(mantissa.partition(".")[2].strip()))

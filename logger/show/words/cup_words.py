"""What is in the cup, in words: the same on the page and in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from logger.compare.cups import cup_of
from logger.cup.tasting import person
from logger.cup.threshold import TASTED_PERCENT, pairs_told
from logger.show.words.wording import NBSP, clock, sentence

if TYPE_CHECKING:
    from logger.compare import Brew
    from logger.compare.cups import CupOfBrew
    from logger.cup.balance import Cup
    from logger.cup.known import Known
    from logger.cup.tasting import TastedCup
    from logger.recording.note_kinds import StrengthNote
    from logger.recording.notes import Noted

CAUTION_CUP = (
    "A cup above about 60 °C scalds a tongue: let it cool before you taste, the sample too before you "
    "measure. Say "
    "what is in a drink to whoever drinks it; no figure here says that it is safe for anybody."
)
GIVE_OR_TAKE_CUP = (
    "± is give or take: 95 times in 100 the truth is no further off, by the scale's and the instrument's "
    "own doubt."
)

_BEVERAGE_FROM = {
    "noted": "as weighed and noted",
    "server": "by the second scale",
    "shot": "by the scale",
    "estimated": "not weighed, taken from the water",
}
_BALANCES = {
    "percolation": "by the percolation balance, strength × beverage / dose",
    "immersion": "by the immersion balance, all liquid counted, what dissolved in it included",
}


def known_words(known: Known | None, unit: str, decimals: int) -> str:
    """Write a number with how far it may be off, both to the same decimals: ``1.35 ±0.04 %``."""
    if known is None:
        return "not known"
    off = known.give_or_take
    space = NBSP if unit else ""
    if off < 0.5 * 10.0**-decimals:
        return f"{known.value:.{decimals}f}{space}{unit}"
    return f"{known.value:.{decimals}f} ±{off:.{decimals}f}{space}{unit}"


def has_cup(one: CupOfBrew) -> bool:
    """Whether anything is known of the cup besides what every report says."""
    return one.cup.strength is not None or bool(one.brew.recording.noted.notes)


def cup_sentences_of(brew: Brew) -> list[str]:
    """The same of a brew."""
    return cup_sentences(cup_of(brew))


def cup_sentences(one: CupOfBrew) -> list[str]:
    """Say what is in the cup, how sure that is, and what was noted; nothing where nothing was."""
    if not has_cup(one):
        return []
    said = balance_sentences(one.cup)
    said += taste_sentences(one.tasted)
    return [*said, *(f"Noted: {text}" for text in one.brew.recording.noted.texts)]


def balance_sentences(cup: Cup) -> list[str]:
    """Say strength, extraction, beverage and what the grounds kept."""
    said = []
    if cup.strength is not None:
        said.append(f"Strength {known_words(cup.strength, '%', 2)}{_mostly(cup.strength)}.")
    if cup.extraction is not None:
        words = f"Extraction {known_words(cup.extraction, '%', 1)} of the coffee, {_BALANCES[cup.balance]}"
        if cup.extraction_in_cup is not None:
            words += f"; {known_words(cup.extraction_in_cup, '%', 1)} of it in the cup"
        said.append(f"{words}{_mostly(cup.extraction)}.")
    beverage = cup.weights.beverage_g
    if beverage is not None and (cup.strength or cup.weights.beverage_from == "noted"):
        words = f"Beverage {known_words(beverage, 'g', 1)}, {_BEVERAGE_FROM[cup.weights.beverage_from]}"
        said.append(f"{words}.")
    if cup.held_g is not None and (cup.strength or cup.weights.beverage_from == "noted"):
        per_dose = (
            f", {known_words(cup.held_per_dose, 'g', 2)} for each g of coffee" if cup.held_per_dose else ""
        )
        said.append(f"Water kept by the grounds {known_words(cup.held_g, 'g', 1)}{per_dose}.")
    return [*said, *cup.remarks]


def taste_sentences(tasted: TastedCup) -> list[str]:
    """Say what was called and what was found, a sentence for each person."""
    said = [f"Called by {person(who)}: {_taste(note)}." for who, note in tasted.called.items()]
    said += [f"Tasted by {person(who)}: {_taste(note)}." for who, note in tasted.tasted.items()]
    for kind in ("aroma", "flavour"):
        found = tasted.found(kind)
        n = sum(kind in note.words for note in tasted.tasted.values())
        if found and n:
            words = ", ".join(f"{word} by {count} of {n}" for word, count in found.items())
            said.append(f"Of the {kind} called, found: {words}.")
    return said


def told_apart(strengths: Sequence[Known], *, espresso: bool) -> tuple[str, str]:
    """Answer whether a taster could tell these cups apart by their strength, and say why; empty below two."""
    if len(strengths) < 2:
        return "", ""
    if espresso:
        return (
            "Whether a taster could tell these espressos apart by their strength is not said.",
            "The published difference threshold is one of filter coffee.",
        )
    likely, unlikely, unknown = pairs_told(strengths)
    pairs = likely + unlikely + unknown
    values = [strength.value for strength in strengths]
    why = (
        f"Strengths lie within {max(values) - min(values):.2f} %. The published difference threshold is "
        f"{TASTED_PERCENT:g} % (Frost, Ristenpart and Guinard 2019): a yardstick, not a verdict."
    )
    if unknown:
        of = "The" if pairs == 1 else f"Of {unknown} of {pairs} pairs the"
        why += f" {of} readings are not sure enough to say."
    whom = "the two cups" if pairs == 1 else "these cups"
    if likely:
        some = "" if pairs == 1 else f" in {likely} of {pairs} pairs"
        return f"A taster could likely tell {whom} apart by their strength{some}.", why
    if unlikely == pairs:
        return f"A taster could hardly tell {whom} apart by their strength.", why
    return f"Whether a taster could tell {whom} apart by their strength cannot be said.", why


def noted_rows(noted: Noted) -> list[tuple[str, str, str]]:
    """Table what counts now: what, its value, and when it was noted (UTC)."""
    from logger.recording.note_kinds import MarkNote, StrengthNote, TasteNote, TextNote, WeighedNote

    rows = []
    for note in noted.in_force:
        what = note.what
        if isinstance(what, StrengthNote):
            name, value = "strength", _reading_words(what)
        elif isinstance(what, WeighedNote):
            name, value = what.what, f"{what.grams:g}{NBSP}g"
        elif isinstance(what, MarkNote):
            name, value = f"mark {what.name}", f"{clock(what.after_s, 1)} after the brew's start"
        elif isinstance(what, TasteNote):
            name, value = f"{what.when} by {person(what.taster)}", _taste(what)
        elif isinstance(what, TextNote):
            name, value = "text", what.text
        else:
            continue
        rows.append((name, value, f"{note.noted:%Y-%m-%d %H:%M}"))
    return rows


def _reading_words(note: StrengthNote) -> str:
    shown = ", ".join(f"{reading:g}" for reading in note.readings)
    words = f"{shown}{NBSP}{note.unit}"
    if note.unit == "°Bx":
        words += f", {note.coefficient if note.coefficient is not None else 'the usual'} % for each °Bx"
    if note.corrected:
        return words
    at = f" at {note.sample_c:g} °C" if note.sample_c is not None else ", its temperature not noted"
    return f"{words}, not corrected by the instrument{at}"


def _taste(note: object) -> str:
    from logger.recording.note_kinds import TasteNote

    assert isinstance(note, TasteNote)
    said = [f"{name} {value:g}" for name, value in note.intensities.items()]
    said += [f"{kind} {', '.join(words)}" for kind, words in note.words.items()]
    return "; ".join(said)


def _mostly(known: Known) -> str:
    """Name the source that brings most of the uncertainty."""
    names = {source.name for source in known.by}
    if len(names) < 2:
        return ""
    largest = max(sorted(names), key=known.share_of)
    return f" (most of that doubt: {largest})" if known.share_of(largest) > 0.5 else ""


def cup_title(count: int) -> str:
    """Head a page of so many cups."""
    return sentence("1 cup" if count == 1 else f"{count} cups")

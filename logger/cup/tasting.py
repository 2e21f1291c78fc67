"""What a cup was called to taste of before it was served, and what its tasters found."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import fmean
from typing import TYPE_CHECKING

from logger.recording.note_kinds import INTENSITIES, STRONGEST, WORDS, TasteNote, When

if TYPE_CHECKING:
    from logger.recording.notes import Noted

TASTES = tuple(name for name in INTENSITIES if name != "liking")
"""Whose order in a cup is compared: how well it was liked is no part of the taste."""

_SAYING = re.compile(r"(?:^|(?<=[\s,;]))([A-Za-z]+)\s*=\s*")


@dataclass(frozen=True, slots=True)
class TastedCup:
    """What was called and what was tasted of one cup.

    :param name: the recording's
    :param called: by person
    :param tasted: by person
    """

    name: str
    called: Mapping[str, TasteNote]
    tasted: Mapping[str, TasteNote]

    def called_at(self, attribute: str) -> float | None:
        """What was called, the mean over those who called it; None where nobody did."""
        return _mean(self.called, attribute)

    def tasted_at(self, attribute: str) -> float | None:
        """What was tasted, the mean over the tasters; None where nobody said."""
        return _mean(self.tasted, attribute)

    def called_words(self, name: str) -> frozenset[str]:
        """All that was called, in small letters."""
        return frozenset(word for note in self.called.values() for word in _plain(note, name))

    def found(self, name: str) -> dict[str, int]:
        """Of each word that was called, how many tasters found it."""
        said = [_plain(note, name) for note in self.tasted.values() if name in note.words]
        return {word: sum(word in words for words in said) for word in sorted(self.called_words(name))}

    def overlap(self, name: str) -> float | None:
        """How much the words called and found are the same, 0 to 1: Jaccard's index, the mean over tasters.

        What both have, by what either has (Jaccard 1901, from memory). None where one side said none.
        """
        called = self.called_words(name)
        shares = [_jaccard(called, _plain(note, name)) for note in self.tasted.values() if name in note.words]
        return fmean(shares) if shares and called else None

    def tasters_overlap(self, name: str) -> float | None:
        """The same between tasters, the mean over pairs; None below two who gave words."""
        said = [_plain(note, name) for note in self.tasted.values() if name in note.words]
        shares = [_jaccard(one, other) for one, other in combinations(said, 2) if one | other]
        return fmean(shares) if shares else None

    def in_order(self) -> tuple[int, int]:
        """How many pairs of attributes came in the order that was called, and of how many that were called
        unlike.
        """
        both = [(self.called_at(name), self.tasted_at(name)) for name in TASTES]
        known = [(called, tasted) for called, tasted in both if called is not None and tasted is not None]
        unlike = [(one, other) for one, other in combinations(known, 2) if one[0] != other[0]]
        return sum((one[0] - other[0]) * (one[1] - other[1]) > 0 for one, other in unlike), len(unlike)


def tasted_cup(name: str, noted: Noted) -> TastedCup:
    """Gather what was called and tasted of a recording."""
    of: dict[str, dict[str, TasteNote]] = {"called": {}, "tasted": {}}
    for note in noted.tastes:
        of[note.when][note.taster] = note
    return TastedCup(name, of["called"], of["tasted"])


def parse_taste(when: When, taster: str, text: str) -> TasteNote:
    """Read what somebody wrote of a taste: ``acidity=9 body=6 flavour=plum, dried fig``.

    :raises ValueError: with what is wrong, a clause, and what may be written
    """
    found = list(_SAYING.finditer(text))
    lead = text[: found[0].start()] if found else text
    if not found or lead.strip(" ,;"):
        raise ValueError(f"{(lead or text).strip()!r} is not said of anything")
    ends = [match.start() for match in found[1:]] + [len(text)]
    intensities: dict[str, float] = {}
    words: dict[str, tuple[str, ...]] = {}
    for match, end in zip(found, ends, strict=True):
        name, said = match[1].lower(), text[match.end() : end].strip(" \t\r\n,;")
        name = "flavour" if name == "flavor" else name
        if name in intensities or name in words:
            raise ValueError(f"{name} is said twice")
        if name in WORDS:
            words[name] = _split(name, said)
        elif name in INTENSITIES:
            intensities[name] = _intensity(name, said)
        else:
            raise ValueError(f"{name!r} is none of {', '.join((*INTENSITIES, *WORDS))}")
    return TasteNote(when, taster, intensities, words)


def _intensity(name: str, said: str) -> float:
    try:
        value = float(said)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= STRONGEST:
        raise ValueError(
            f"{name}={said} is no number from 0 (not there) to {STRONGEST:g} (as strong as it gets)"
        )
    return value


def _split(name: str, said: str) -> tuple[str, ...]:
    words = tuple(" ".join(word.split()) for word in said.split(","))
    if not all(words):
        raise ValueError(f"{name} names no word")
    return words


def _mean(notes: Mapping[str, TasteNote], attribute: str) -> float | None:
    values = [note.intensities[attribute] for note in notes.values() if attribute in note.intensities]
    return fmean(values) if values else None


def _plain(note: TasteNote, name: str) -> frozenset[str]:
    return frozenset(" ".join(word.casefold().split()) for word in note.words.get(name, ()))


def _jaccard(one: frozenset[str], other: frozenset[str]) -> float:
    return len(one & other) / len(one | other) if one | other else 0.0


def person(taster: str) -> str:
    """Name a taster; one without a label is the brewer."""
    return taster or "the brewer"


def cups_with(cups: Sequence[TastedCup], attribute: str) -> list[TastedCup]:
    """The cups of which an attribute was both called and tasted."""
    return [
        cup for cup in cups if cup.called_at(attribute) is not None and cup.tasted_at(attribute) is not None
    ]

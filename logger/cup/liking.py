"""Which of several cups was liked best, as far as its tasters can say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.cup.tasting import TastedCup, person


@dataclass(frozen=True, slots=True)
class Liked:
    """A cup that somebody said how well he liked it.

    :param name: the recording's
    :param liking: 0 to 15, what all tasters together would have said of it, had each tasted every cup
    :param by_taster: what each of its tasters said
    """

    name: str
    liking: float
    by_taster: dict[str, float]


def liked_best_first(cups: Sequence[TastedCup]) -> tuple[Liked, ...]:
    """Put cups in the order in which they were liked; those that nobody spoke of are left out.

    One taster gives every cup more than another does. So what was said is split into the cup's part and the
    taster's, by least squares: the additive model without interaction (Montgomery, Design and Analysis of
    Experiments, randomized blocks with missing cells; from memory). Where all tasted every cup, that is the
    mean over tasters.
    """
    said = {cup.name: likings for cup in cups if (likings := _likings(cup))}
    if not said:
        return ()
    tasters = sorted({taster for likings in said.values() for taster in likings})
    of_cups = _cup_parts([list(likings.items()) for likings in said.values()], tasters)
    found = [Liked(name, of, likings) for (name, likings), of in zip(said.items(), of_cups, strict=True)]
    return tuple(sorted(found, key=lambda one: -one.liking))


def liking_words(order: Sequence[Liked]) -> list[str]:
    """Say how sure it is that the first is the best.

    :param order: as :func:`liked_best_first` gives it, at least one
    """
    best = order[0]
    by = "one taster" if len(best.by_taster) == 1 else f"{len(best.by_taster)} tasters"
    words = [f"Liked best of {len(order)}: {best.name}, {best.liking:.1f} of 15 by {by}."]
    if len(order) == 1:
        return [*words, "No other brew was tasted for its liking: there is nothing to prefer it to."]
    second = order[1]
    words.append(f"Next: {second.name}, {second.liking:.1f}.")
    against = _who_prefers(second, best)
    if against:
        words.append(f"{' and '.join(against)} liked the second as well or better.")
    if against or len(best.by_taster) < 3:
        words.append(
            "So few opinions are a hint: brew both again, and taste them side by side without names."
        )
    return words


def _likings(cup: TastedCup) -> dict[str, float]:
    return {
        person(taster): note.intensities["liking"]
        for taster, note in cup.tasted.items()
        if "liking" in note.intensities
    }


def _cup_parts(said: Sequence[Sequence[tuple[str, float]]], tasters: Sequence[str]) -> list[float]:
    """What the tasters together would say of each cup."""
    cells = [(cup, tasters.index(by), value) for cup, row in enumerate(said) for by, value in row]
    design = np.zeros((len(cells) + 1, len(said) + len(tasters)))
    for row, (cup, taster, _) in enumerate(cells):
        design[row, cup] = design[row, len(said) + taster] = 1.0
    # The tasters' parts even out, so that a cup's part is what all of them together would say.
    design[-1, len(said) :] = 1.0
    values = np.array([*(value for _, _, value in cells), 0.0])
    parts = np.linalg.lstsq(design, values, rcond=None)[0]
    return [float(part) for part in parts[: len(said)]]


def _who_prefers(one: Liked, other: Liked) -> list[str]:
    both = one.by_taster.keys() & other.by_taster.keys()
    return sorted(taster for taster in both if one.by_taster[taster] >= other.by_taster[taster])

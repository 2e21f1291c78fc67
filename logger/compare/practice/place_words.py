"""What a cup's place in the round does, in words."""

from __future__ import annotations

from collections.abc import Sequence
from math import factorial, prod

from logger.compare.evenness_words import ENOUGH, noun_of
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.table import Column

FEWEST_ROUNDS = 3
_OVER_UNDER = {
    "s": ("late", "early"),
    "g": ("heavy", "light"),
    "g/s": ("fast", "slow"),
    "°C": ("hot", "cool"),
}


def too_few(rounds: Sequence[Sequence[int]]) -> str:
    """Why nothing can be said of places; empty where it can."""
    if not rounds:
        return (
            "When the brews started is not known of all: nothing can be said of a cup's place in its round."
        )
    most = max(len(one) for one in rounds)
    if most < 2:
        return "No two cups were made in one go: nothing can be said of a cup's place in its round."
    full = [one for one in rounds if len(one) == most]
    # Shuffles that can be told apart, of which the one that was seen is one.
    if len(full) < FEWEST_ROUNDS or prod(factorial(most) for _ in full) < 2 * ENOUGH * factorial(most):
        count = "1 round" if len(full) == 1 else f"{len(full)} rounds"
        return f"{count} of {most} cups cannot tell a cup's place from chance: make some more like these."
    return ""


def none_found(rounds: int, cups: int) -> str:
    """Say that no place stands out."""
    return f"Over {rounds} rounds of {cups} cups no cup stands out by its place beyond chance."


def odd_words(column: Column, place: int, others: Sequence[int], off: Floats, *, alone: bool) -> str:
    """Say how a cup differs: ``pour 3: cups 1-3 agree, cup 4 is always 1.4 g heavy``.

    :param place: of the odd cup, from 1
    :param others: places of the others
    :param off: of each round, the odd cup less the mean of the others
    :param alone: whether it is the only odd one
    """
    mean = float(off.mean())
    over, under = _OVER_UNDER.get(column.unit, ("more", "less"))
    often = "always" if (off > 0).all() or (off < 0).all() else "on average"
    side = over if mean > 0 else under
    odd = f"cup {place} is {often} {abs(mean):.1f} {column.unit} {side}"
    agree = f"cups {_listed(others)} agree, " if alone and len(others) > 1 else ""
    where = f"{column.name}, {noun_of(column.quantity)}" if column.name else noun_of(column.quantity)
    return f"{where}: {agree}{odd}"


def _listed(places: Sequence[int]) -> str:
    if len(places) > 2 and places[-1] - places[0] == len(places) - 1:
        return f"{places[0]}-{places[-1]}"
    return " and ".join(map(str, places)) if len(places) == 2 else ", ".join(map(str, places))

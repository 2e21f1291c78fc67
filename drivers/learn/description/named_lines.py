"""Lines of the same make that a word tells apart: one that says something else names another kind of line.

A word that tells a state (rest, overload) stands in lines whose numbers go on with those before and behind;
the charge of a battery is none of the numbers that a weight goes through.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from drivers.learn.outside.picking import is_between, is_between_nearest
from drivers.learn.packets.arrays import Floats, Marks
from drivers.learn.packets.line_makes import NUMBERS

_LEAST_SHARE, _FEWEST = 0.01, 3
"""Of the lines that have a word, at least: less is damage."""

_GO_ON, _SELDOM = 0.9, 0.6
"""Shares of the lines that go on with those beside them: of a number that does, and of none that does."""

_RESTS, _NOISE = 0.75, 4.0
"""Share of the changes from line to line that are those of what rests; how many of the largest of them a
number may be off those beside it."""


_FEWEST_MOVING = 5
"""Lines in which a number moves farther than at rest, and still goes on."""


class Line(NamedTuple):
    """When a line came, the texts of its parts, and the whole of it."""

    time_s: float
    texts: list[bytes]
    whole: bytes


def by_name(sorts: Sequence[str], found: list[Line]) -> list[list[Line]]:
    """Set lines apart that a word names as another kind; all as they are where none does.

    :param sorts: what the parts of each line are
    """
    numbers = [
        np.array([_value_of(line.texts[at], sort) for line in found])
        for at, sort in enumerate(sorts) if sort in NUMBERS
    ]  # fmt: skip
    for at in (at for at, sort in enumerate(sorts) if sort == "word"):
        words = np.array([line.texts[at] for line in found], dtype=object)
        tally = Counter(words.tolist())
        least = max(_FEWEST, _LEAST_SHARE * len(found))
        often = [word for word, count in tally.most_common() if count >= least]
        for word in often[1:]:
            if _says_something_else(words == word, words == often[0], numbers):
                rest = [line for line in found if line.texts[at] != word]
                named = [line for line in found if line.texts[at] == word]
                return [*by_name(sorts, rest), named]
    return [found]


def _value_of(text: bytes, sort: str) -> float:
    try:
        if sort == "hex":
            return float(int(text, 16))
        return float(text.replace(b" ", b"").replace(b"\t", b""))
    except ValueError:
        return np.nan


def _says_something_else(named: Marks, usual: Marks, numbers: Sequence[Floats]) -> bool:
    """Say whether a number that goes on in the usual lines does not in those that have another word."""
    if any(_moves_through(values, named, _reach(values[usual])) for values in numbers):
        return False
    for values in numbers:
        reach = _reach(values[usual])
        go_on = _go_on(values, reach) | is_between_nearest(values, np.flatnonzero(usual), reach)
        if _go_on(values[usual], reach).mean() > _GO_ON and go_on[named].mean() < _SELDOM:
            return True
    return False


def _moves_through(values: Floats, named: Marks, reach: float) -> bool:
    """Say whether a number moves on in lines that have a word: so does the load, whatever else jumps then.

    A clock or a counter goes on in any line, but never farther from line to line than at rest.
    """
    steps = np.abs(np.diff(values, prepend=values[:1])), np.abs(np.diff(values, append=values[-1:]))
    moving = named & (np.minimum(*steps) > reach)
    return bool(moving.sum() >= _FEWEST_MOVING and _go_on(values, reach)[moving].mean() > _GO_ON)


def _go_on(values: Floats, reach: float) -> Marks:
    """Say which numbers lie between those just before and behind."""
    return is_between(values, np.roll(values, 1), np.roll(values, -1), reach)


def _reach(values: Floats) -> float:
    """Give how far a number may be off those beside it: a few of the changes that it has at rest."""
    gone = np.abs(np.diff(values))
    gone = gone[np.isfinite(gone)]
    return _NOISE * float(np.quantile(gone, _RESTS)) if gone.size else 0.0

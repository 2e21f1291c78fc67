"""Could a taster tell? Differences of strength held against the published difference threshold, as a
yardstick.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from logger.cup.known import Known, combined

TASTED_PERCENT = 0.24
"""The difference threshold of strength, % of solids, for filter coffee: Frost, Ristenpart and Guinard 2019,
J. Food Sci. (the work on basket geometry)."""

Answer = Literal["likely", "unlikely", "cannot be told"]


@dataclass(frozen=True, slots=True)
class Told:
    """Whether a difference of strength is one that tasters notice.

    :param difference: in per cent of solids, not less than nought
    :param answer: ``likely`` where all of its interval is above the threshold, ``unlikely`` where all is
        below
    """

    difference: Known
    answer: Answer


def could_be_told(one: Known, other: Known) -> Told:
    """Hold the difference of two strengths against the threshold."""
    low, high = sorted((one, other), key=lambda known: known.value)
    difference = combined(lambda more, less: more - less, high, low)
    off = difference.give_or_take
    if difference.value - off > TASTED_PERCENT:
        return Told(difference, "likely")
    return Told(difference, "unlikely" if difference.value + off < TASTED_PERCENT else "cannot be told")


def pairs_told(strengths: Sequence[Known]) -> tuple[int, int, int]:
    """Of all pairs of cups: how many could be told apart, how many hardly, and how many nobody knows."""
    answers = [could_be_told(one, other).answer for one, other in combinations(strengths, 2)]
    return answers.count("likely"), answers.count("unlikely"), answers.count("cannot be told")

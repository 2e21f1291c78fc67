"""What two practice sets say of each other: the results, and nothing that works them out."""

from __future__ import annotations

from dataclasses import dataclass

from logger.compare.comparison import Quantity
from logger.compare.practice.estimates import Estimate
from logger.compare.practice.results import Kind, Practice


@dataclass(frozen=True, slots=True)
class Contrast:
    """One figure in two practice sets.

    :param first: the mean in the first set; ``second``: in the second
    :param difference: second less first (Welch)
    :param effect: Hedges' g, second less first
    :param p: by permutation, corrected for all figures compared (Holm)
    :param spread_ratio: standard deviation of the second by that of the first (F)
    :param spread_p: by permutation of the distances from the medians (Brown and Forsythe), corrected (Holm)
    :param beyond_chance: whether the means differ beyond chance
    :param spread_beyond_chance: whether the spreads do
    :param says: one sentence
    """

    stage: str
    quantity: Quantity
    unit: str
    kind: Kind
    first: Estimate
    second: Estimate
    difference: Estimate
    effect: Estimate
    p: float
    spread_ratio: Estimate
    spread_p: float
    beyond_chance: bool
    spread_beyond_chance: bool
    says: str


@dataclass(frozen=True, slots=True)
class TwoSets:
    """Two practice sets: two recipes, two people, two scales.

    :param names: of the two sets
    :param contrasts: stage by stage, then the whole brew
    :param verdict: one sentence
    :param notes: what the reader must know besides
    """

    names: tuple[str, str]
    first: Practice
    second: Practice
    contrasts: tuple[Contrast, ...]
    verdict: str
    notes: tuple[str, ...]

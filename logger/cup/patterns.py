"""Which figures of a brew go with which taste, over several cups, without finding what chance alone put
there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations
from statistics import NormalDist

import numpy as np

from logger.cup.agreeing import ranks

LEAST_CUPS = 4
"""Below this no rank correlation is even written down."""

CLAIM = 0.05
"""What may be chance in one of twenty such tables is not claimed."""

_POWER = 0.8
_ALL_ORDERS_TO = 8
_DRAWN = 19_999
_SEED = 20_261_125
_RANK_VARIANCE = 1.06
"""Fieller, Hartley and Pearson 1957: the variance of Fisher's z of a rank correlation is 1.06 / (n - 3)."""


@dataclass(frozen=True, slots=True)
class GoesWith:
    """A figure of the brew and a taste.

    :param rho: Spearman's rank correlation
    :param n: cups in which both are known
    :param p: how often a correlation as large comes about by chance: the two-sided permutation test
    :param p_of_all: the same with all pairs that were tried taken into account (Holm 1979)
    :param cups_wanted: how many cups a correlation of this size would need to be told from chance among as
        many pairs
        in four of five cases; None where it is nought
    """

    figure: str
    taste: str
    rho: float
    n: int
    p: float
    p_of_all: float = 1.0
    cups_wanted: int | None = None

    @property
    def is_claimed(self) -> bool:
        """Whether chance is no good explanation."""
        return self.p_of_all <= CLAIM

    @property
    def cups_more(self) -> int:
        """How many more cups are wanted before a claim; 0 where it is claimed."""
        return 0 if self.is_claimed or self.cups_wanted is None else max(self.cups_wanted - self.n, 1)


def going_together(
    figures: Mapping[str, Sequence[float | None]], tastes: Mapping[str, Sequence[float | None]]
) -> tuple[GoesWith, ...]:
    """Try every figure with every taste, the clearest first.

    :param figures: by name, one for each cup, None where it is not known
    :param tastes: the same, in the same order of cups
    """
    tried = [
        one
        for figure, values in figures.items()
        for taste, felt in tastes.items()
        if (one := _tried(figure, values, taste, felt)) is not None
    ]
    return tuple(
        replace(one, p_of_all=p, cups_wanted=cups_wanted(one.rho, len(tried)))
        for one, p in sorted(
            zip(tried, holm([one.p for one in tried]), strict=True),
            key=lambda pair: (pair[0].p, -abs(pair[0].rho)),
        )
    )


def permutation_p(one: Sequence[float], other: Sequence[float]) -> tuple[float, float] | None:
    """Spearman's rank correlation and its two-sided p-value; None where one side is all alike.

    Up to eight values every order is tried; above that as many drawn orders as make p known well enough, the
    order that came about among them (Phipson and Smyth 2010).
    """
    a, b = ranks(one), ranks(other)
    a, b = a - a.mean(), b - b.mean()
    size = math.sqrt(float(a @ a) * float(b @ b))
    if size == 0:
        return None
    was = abs(float(a @ b)) - 1e-9 * size
    n = len(a)
    if n <= _ALL_ORDERS_TO:
        return float(a @ b) / size, float(np.mean(np.abs(b[_orders(n)] @ a) >= was))
    rng = np.random.default_rng(_SEED)
    drawn = rng.permuted(np.tile(b, (_DRAWN, 1)), axis=1)
    as_large = int(np.sum(np.abs(drawn @ a) >= was))
    return float(a @ b) / size, (as_large + 1) / (_DRAWN + 1)


def holm(ps: Sequence[float]) -> list[float]:
    """P-values with the number of trials taken into account (Holm 1979, Scand. J. Stat. 6:65), in the same
    order.
    """
    order = sorted(range(len(ps)), key=lambda number: ps[number])
    adjusted, highest = [1.0] * len(ps), 0.0
    for place, number in enumerate(order):
        highest = max(highest, min((len(ps) - place) * ps[number], 1.0))
        adjusted[number] = highest
    return adjusted


def cups_wanted(rho: float, trials: int) -> int | None:
    """How many cups it takes to tell a rank correlation from chance, first among some trials, in four of
    five cases.

    By Fisher's z, and never fewer than the orders of which the one at hand can be rare enough.
    """
    if rho == 0:
        return None
    normal = NormalDist()
    z = normal.inv_cdf(1.0 - CLAIM / trials / 2.0) + normal.inv_cdf(_POWER)
    size = math.atanh(min(abs(rho), 0.99))
    return max(3 + math.ceil(_RANK_VARIANCE * (z / size) ** 2), least_cups(trials))


def least_cups(trials: int) -> int:
    """The fewest cups with which any claim is possible among some trials: 2 of n! orders must be rare
    enough.
    """
    n = LEAST_CUPS
    while 2.0 / math.factorial(n) > CLAIM / max(trials, 1):
        n += 1
    return n


@cache
def _orders(n: int) -> np.ndarray:
    """All orders of so many, shape (n!, n)."""
    return np.array(list(permutations(range(n))))


def _tried(
    figure: str, values: Sequence[float | None], taste: str, felt: Sequence[float | None]
) -> GoesWith | None:
    both = [(x, y) for x, y in zip(values, felt, strict=True) if x is not None and y is not None]
    if len(both) < LEAST_CUPS:
        return None
    told = permutation_p([x for x, _ in both], [y for _, y in both])
    return None if told is None else GoesWith(figure, taste, told[0], len(both), told[1])

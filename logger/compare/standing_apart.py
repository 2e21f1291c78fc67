"""Brews of one target that stand apart from the others, and in which figure of which stage."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from logger.compare.evenness_words import ENOUGH

if TYPE_CHECKING:
    from logger.compare.comparison import Comparison, Deviation, Quantity
    from logger.curve import Floats

ALPHA = 0.05
"""How often a set of brews that differ by chance alone has any of them named, all figures together."""
_WORTH_NAMING = 0.25  # of the tolerance: less is no news, however even the others are
_MOST_APART = 0.2  # of the brews


@dataclass(frozen=True, slots=True)
class Apart:
    """One figure of one brew that is unlike the same figure of the others.

    :param stage: the stage's name; empty for the brew as a whole
    :param value: the brew's
    :param usual: the median of all brews
    """

    stage: str
    quantity: Quantity
    value: float
    usual: float

    @property
    def off(self) -> float:
        """How far it is from the usual."""
        return self.value - self.usual


def standing_apart(comparisons: Sequence[Comparison]) -> list[tuple[Apart, ...]]:
    """Say of each brew in which figures it is unlike the others, the furthest first; empty for most.

    Each figure goes through the generalised ESD test, its level divided by the number of figures; fewer than
    8 brews name none. A figure that was not measured, or whose stage was missing or ran into another, says
    nothing here.

    :param comparisons: all with one target
    """
    found: list[list[tuple[float, Apart]]] = [[] for _ in comparisons]
    columns = _columns(comparisons)
    for (stage, quantity), column in columns.items():
        brews = [number for number, deviation in column if math.isfinite(deviation.actual)]
        values = np.array([deviation.actual for _, deviation in column if math.isfinite(deviation.actual)])
        if len(values) < ENOUGH:
            continue
        usual = float(np.median(values))
        tolerance = _tolerance(column[0][1])
        for place in generalised_esd(values, ALPHA / len(columns), math.ceil(_MOST_APART * len(values))):
            value = float(values[place])
            tolerances_off = abs(value - usual) / tolerance
            if tolerances_off > _WORTH_NAMING:
                found[brews[place]].append((tolerances_off, Apart(stage, quantity, value, usual)))
    return [tuple(apart for _, apart in sorted(each, key=lambda one: -one[0])) for each in found]


def generalised_esd(values: Floats, alpha: float, most: int) -> list[int]:
    """Find the outliers among values that are otherwise normally spread: the generalised ESD test.

    Rosner, Technometrics 25 (1983); NIST/SEMATECH e-Handbook 1.3.5.17.3, whose worked example is a test here.

    :param values: shape (n,)
    :param alpha: how often a sample without outliers is said to have one
    :param most: how many outliers are looked for
    :return: the places of the outliers, the furthest first
    """
    from scipy.special import stdtrit

    left = np.arange(len(values))
    taken: list[int] = []
    outliers = 0
    for removed in range(min(most, len(values) - 2)):
        rest = values[left]
        spread = float(rest.std(ddof=1))
        if not spread > 0:
            break
        off = np.abs(rest - rest.mean())
        at = int(np.argmax(off))
        n_left = len(values) - removed
        t = float(stdtrit(n_left - 2, 1 - alpha / (2 * n_left)))
        critical = (n_left - 1) * t / math.sqrt((n_left - 2 + t**2) * n_left)
        taken.append(int(left[at]))
        if off[at] / spread > critical:
            outliers = len(taken)
        left = np.delete(left, at)
    return taken[:outliers]


def _tolerance(deviation: Deviation) -> float:
    """How far off counts as inside; of a window, half its width."""
    if deviation.window is not None:
        return max((deviation.window[1] - deviation.window[0]) / 2, 1e-9)
    return max(deviation.tolerance, 1e-9)


def _columns(
    comparisons: Sequence[Comparison],
) -> dict[tuple[str, Quantity], list[tuple[int, Deviation]]]:
    """Every figure over the brews, with the place of the brew beside it."""
    columns: dict[tuple[str, Quantity], list[tuple[int, Deviation]]] = {}
    for number, comparison in enumerate(comparisons):
        for result in comparison.stages:
            if result.finding in ("matched", "split"):
                for deviation in result.deviations:
                    columns.setdefault((result.stage.name, deviation.quantity), []).append(
                        (number, deviation)
                    )
        for deviation in comparison.whole:
            # What a poured brew comes to is its last stage's weight already.
            if not comparison.stages or deviation.quantity != "total_g":
                columns.setdefault(("", deviation.quantity), []).append((number, deviation))
    return columns

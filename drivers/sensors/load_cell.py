"""Load cells: counts of a converter to g, by a straight line through zero and known weights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import linear_regression


@dataclass(frozen=True, slots=True)
class LoadCell:
    """A load cell with its converter.

    :param zero_counts: counts of the empty pan
    :param counts_per_g: negative where the cell is mounted the other way round
    :param low_counts: the converter's least code; it and what is below it say "out of range", not a weight
    :param high_counts: the converter's greatest code, likewise
    :raises ValueError: when they cannot be
    """

    zero_counts: float
    counts_per_g: float
    low_counts: float = -math.inf
    high_counts: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.zero_counts) and math.isfinite(self.counts_per_g) and self.counts_per_g):
            raise ValueError(f"zero {self.zero_counts:g} and {self.counts_per_g:g} counts per g are no scale")
        if not self.low_counts < self.zero_counts < self.high_counts:
            limits = f"{self.low_counts:g} and {self.high_counts:g} counts"
            raise ValueError(f"zero {self.zero_counts:g} is not between {limits}")

    @property
    def step_g(self) -> float:
        """What one count is, g."""
        return 1.0 / abs(self.counts_per_g)

    def grams(self, counts: float) -> float:
        """Give the weight, g.

        :raises ValueError: when the converter is at the end of its range
        """
        if math.isnan(counts):
            return math.nan
        if not self.low_counts < counts < self.high_counts:
            raise ValueError(
                f"{counts:.0f} counts is at the end of the converter's range: overloaded or a broken wire"
            )
        return (counts - self.zero_counts) / self.counts_per_g


@dataclass(frozen=True, slots=True)
class LoadCellFit:
    """A load cell calibrated with known weights.

    :param residuals_g: what the cell would show less the true weight, for each point in order, g
    """

    cell: LoadCell
    residuals_g: tuple[float, ...]

    @property
    def worst_g(self) -> float:
        """The largest residual without its sign: what the straight line leaves unexplained, g."""
        return max(map(abs, self.residuals_g))


def fit_load_cell(
    points: Sequence[tuple[float, float]], low_counts: float = -math.inf, high_counts: float = math.inf
) -> LoadCellFit:
    """Calibrate with two or more known weights, the empty pan among them if possible.

    Least squares of counts on grams: the weights are taken for true and the counts for noisy.

    :param points: counts and g
    :raises ValueError: when no line goes through them
    """
    if not all(math.isfinite(number) for point in points for number in point):
        raise ValueError("a point of the calibration is not a number")
    if len({grams for _, grams in points}) < 2:
        raise ValueError("a calibration needs two different weights, the empty pan (0 g) counts as one")
    counts, grams = zip(*points, strict=True)
    slope, zero = linear_regression(grams, counts)
    cell = LoadCell(zero, slope, low_counts, high_counts)
    return LoadCellFit(cell, tuple(cell.grams(shown) - true for shown, true in points))

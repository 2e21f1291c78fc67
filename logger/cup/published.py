"""The published bounds of the brewing control chart. Each is somebody's taste at some time, not a law."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """A published field of the chart.

    :param strength: lowest and highest, % of the beverage
    :param extraction: lowest and highest, % of the dose
    :param source: where it is published
    """

    strength: tuple[float, float]
    extraction: tuple[float, float]
    source: str


FILTER = Bounds(
    (1.15, 1.35),
    (18.0, 22.0),
    "SCAA Golden Cup Standard, 23 December 2015; 18 to 22\u00a0% since Lockhart 1957",
)

ESPRESSO_EXTRACTIONS = (18.0, 20.0, 22.0)
"""Lines of the espresso chart: the same range of extraction, by Lockhart 1957. No strength is published that
holds for espressos of today's ratios: 30 to 60 g from 15 to 22 g (Cameron et al. 2020, Matter 2:631)."""

RATIO_STANDARD_G_L = 55.0
"""g of coffee for each litre of water, ±10 %: the same standard."""

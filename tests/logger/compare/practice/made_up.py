"""Practice sets made up with a known truth: how many in a usual run, and how well a count must come out."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from logger.compare.comparison import Quantity
from logger.compare.practice.table import Column

SETS = int(os.environ.get("EVENCUP_PRACTICE_SETS", "60"))
"""How many sets each simulation makes. The figures in docs/evenness.md are those of 2000."""

Floats = np.ndarray


def covers(hits: int, sets: int, least: float = 0.87, most: float = 0.93) -> bool:
    """Whether a share lies within limits, as far as so many sets can tell: 3 standard errors of the count."""
    reach = 3.0 * math.sqrt(0.09 / sets) if sets < 2000 else 0.0
    return least - reach <= hits / sets <= most + reach


def tell(words: str) -> None:
    """Write down what a simulation came to; ``pytest -s`` shows it."""
    sys.stdout.write(f"{words}\n")


Several = float | Sequence[float]


def together(count: int, correlation: float, sd: Several, mean: Several = 0.0) -> tuple[Floats, Floats]:
    """Mean and root of the covariance of figures that hang together evenly, in tolerances."""
    sds = np.full(count, sd) if np.isscalar(sd) else np.asarray(sd)
    means = np.full(count, mean) if np.isscalar(mean) else np.asarray(mean)
    correlations = np.full((count, count), correlation) + (1 - correlation) * np.eye(count)
    return means, np.linalg.cholesky(correlations * np.outer(sds, sds))


def true_share(mean: Floats, root: Floats, draws: int = 400_000) -> float:
    """The probability that all figures lie inside, counted over many brews."""
    off = np.random.default_rng(99).standard_normal((draws, mean.size)) @ root.T + mean
    return float((np.abs(off).max(axis=1) <= 1).mean())


STARTS_S, TO_G, FLOW_G_S = (0.0, 45.0, 75.0, 105.0), (45.0, 100.0, 150.0, 250.0), 6.0
TOLERANCES: dict[Quantity, float] = {"start_s": 3.0, "to_g": 3.0, "flow_g_s": 1.5, "end_s": 10.0}
OWN: tuple[Quantity, ...] = ("start_s", "to_g", "flow_g_s")
Cause = tuple[int, Quantity]


def pour_columns() -> tuple[Column, ...]:
    """Four pours, each with its start, end, weight and flow."""
    columns = []
    for number, (start_s, to_g) in enumerate(zip(STARTS_S, TO_G, strict=True)):
        poured_g = to_g - (TO_G[number - 1] if number else 0.0)
        wanted: dict[Quantity, float] = {
            "start_s": start_s,
            "end_s": start_s + poured_g / FLOW_G_S,
            "to_g": to_g,
            "flow_g_s": FLOW_G_S,
        }
        units = {"start_s": "s", "end_s": "s", "to_g": "g", "flow_g_s": "g/s"}
        columns += [
            Column(
                number,
                f"pour {number}",
                quantity,
                units[quantity],
                "hand",
                value,
                (value - TOLERANCES[quantity], value + TOLERANCES[quantity]),
                True,
                "",
            )
            for quantity, value in wanted.items()
        ]
    return tuple(columns)


@dataclass
class Brewer:
    """One who pours four pours, with faults of their own.

    :param bias: own mean of each cause, its own unit
    :param sd: own standard deviation
    :param carry: how much of a late start goes over into the next
    """

    bias: dict[Cause, float]
    sd: dict[Cause, float]
    carry: float = 0.0
    causes: list[Cause] = field(default_factory=list)

    def brew(self, n: int, generator: np.random.Generator) -> Floats:
        """Brews, shape (n, columns of ``pour_columns``)."""
        late_s, before_g = np.zeros(n), np.zeros(n)
        columns = []
        for number, (start_s, to_g) in enumerate(zip(STARTS_S, TO_G, strict=True)):
            own = {
                quantity: self.bias.get((number, quantity), 0.0)
                + self.sd[number, quantity] * generator.standard_normal(n)
                for quantity in OWN
            }
            late_s = self.carry * late_s + own["start_s"] if number else np.zeros(n)
            weight_g, flow_g_s = to_g + own["to_g"], np.maximum(FLOW_G_S + own["flow_g_s"], 2.0)
            ends_s = start_s + late_s + (weight_g - before_g) / flow_g_s
            columns += [start_s + late_s, ends_s, weight_g, flow_g_s]
            before_g = weight_g
        return np.array(columns).T

    def share_inside(self, seed: int, brews: int = 4000) -> float:
        """How many of many brews are inside."""
        columns = pour_columns()
        limits = np.array([column.limits for column in columns])
        values = self.brew(brews, np.random.default_rng(seed))
        return float(((values >= limits[:, 0]) & (values <= limits[:, 1])).all(axis=1).mean())


def with_one_fault(generator: np.random.Generator) -> tuple[Brewer, Cause, str]:
    """A brewer with one great fault, in a mean or in a spread, among many small ones."""
    causes: list[Cause] = [(number, quantity) for number in range(4) for quantity in OWN]
    sd = {cause: TOLERANCES[cause[1]] * generator.uniform(0.15, 0.3) for cause in causes}
    causes.remove((0, "start_s"))
    bias = {cause: TOLERANCES[cause[1]] * generator.uniform(-0.15, 0.15) for cause in causes}
    worst, part = causes[generator.integers(len(causes))], str(generator.choice(["mean", "spread"]))
    size = TOLERANCES[worst[1]] * generator.uniform(0.8, 1.3)
    if part == "mean":
        bias[worst] = size * generator.choice([-1, 1])
    else:
        sd[worst] = size
    return Brewer(bias, sd, carry=float(generator.choice([0.0, 0.5, 0.9]))), worst, part


def best_fix(brewer: Brewer, seed: int) -> tuple[tuple[Cause, str], float]:
    """The fix that truly raises the share inside most, and by how much more than the next best."""
    now = brewer.share_inside(seed)
    gains: dict[tuple[Cause, str], float] = {}
    for cause in brewer.bias:
        without = {**brewer.bias, cause: 0.0}
        gains[cause, "mean"] = Brewer(without, brewer.sd, brewer.carry).share_inside(seed) - now
    for cause, sd in brewer.sd.items():
        capable = {**brewer.sd, cause: min(sd, TOLERANCES[cause[1]] / 3)}
        gains[cause, "spread"] = Brewer(brewer.bias, capable, brewer.carry).share_inside(seed) - now
    first, second = sorted(gains, key=lambda fix: -gains[fix])[:2]
    return first, gains[first] - gains[second]


def samples(n: int, count: int, seed: int) -> Iterator[Floats]:
    """Samples of a standard normal."""
    generator = np.random.default_rng(seed)
    for _ in range(count):
        yield generator.standard_normal(n)

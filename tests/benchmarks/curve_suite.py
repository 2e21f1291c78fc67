"""Simulated brews with their truth, two other methods to read them, and how a reading is scored.

A pour that was read matches a true one when what both span is more than half of what either spans. A brew is
exact when every pour matches and none is extra.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise
from time import perf_counter

import numpy as np
import ruptures
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from drivers.reading import GRAM
from drivers.simulated import (
    EASY,
    HARD,
    MEDIUM,
    Conditions,
    Plan,
    SimulatedBrew,
    Step,
    TruePour,
    read_plan,
    simulate,
)
from logger.curve import Pour, analyse

Floats = NDArray[np.float64]

ESPRESSO = read_plan("""
title = "Practice espresso"
method = "espresso"
dose_g = 18.0
[shot]
yield_g = 36.0
time = ["0:25", "0:30"]
first_drip = ["0:05", "0:08"]
""")

RISTRETTO = read_plan("""
title = "Short shot"
method = "espresso"
dose_g = 19.0
[shot]
yield_g = 24.0
time = ["0:22", "0:26"]
first_drip = ["0:06", "0:09"]
""")


def filter_plan(*steps: tuple[float, float, float], dose_g: float = 15.0, method: str = "pour-over") -> Plan:
    """Give a plan of pours.

    :param steps: start in s, water on the scale after it in g, flow in g/s; in order
    """
    from_g = [0.0, *(to_g for _, to_g, _ in steps)]
    pours = tuple(
        Step(f"pour {number}", start_s, from_g[number], to_g, flow_g_s)
        for number, (start_s, to_g, flow_g_s) in enumerate(steps)
    )
    return Plan("Practice", method, dose_g, steps=pours, end_s=steps[-1][0] + 75.0)  # type: ignore[arg-type]


LEVELS = {
    "water only": replace(EASY, vessel_chance=0.0, lift_chance=0.0),
    "easy": EASY,
    "medium": MEDIUM,
    "hard": HARD,
}

THREE_POURS = filter_plan((0, 45, 6), (45, 150, 6), (75, 250, 5))
PLANS: tuple[Plan, ...] = (
    THREE_POURS,
    ESPRESSO,
    filter_plan((0, 300, 12), dose_g=20.0, method="immersion"),
    filter_plan((0, 50, 5), (40, 100, 5), (70, 150, 5), (100, 200, 5), (130, 250, 5), dose_g=16.0),
    RISTRETTO,
    filter_plan((0, 40, 8), (30, 220, 10), dose_g=18.0, method="immersion"),
    filter_plan((0, 60, 4), (40, 320, 4), dose_g=20.0),
    filter_plan((0, 30, 3), (35, 90, 4), (60, 180, 7), dose_g=12.0),
)


def brews(level: Conditions, count: int, first_seed: int = 0) -> list[SimulatedBrew]:
    """Simulate brews, each with the next plan and the next seed."""
    return [simulate(PLANS[seed % len(PLANS)], seed, level) for seed in range(first_seed, first_seed + count)]


def weights(brew: SimulatedBrew) -> tuple[Floats, Floats]:
    """Give what the scale of a brew sent: arrival times and weights."""
    sent = [reading for reading in brew.readings if reading.unit == GRAM]
    return np.array([reading.time_s for reading in sent]), np.array([reading.value for reading in sent])


Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ReadPour:
    """What any method says of a pour, and where it says so, between what start, end and grams lie."""

    start_s: float
    end_s: float
    poured_g: float
    between: tuple[Range, Range, Range] | None = None


@dataclass(slots=True)
class Score:
    """How a method did on some brews; errors are read less true, of the pours that match.

    :param start_errors_s: against the first water; within the band between the first drop and the first half
        gram, which is below what a display shows, an espresso's start counts as right
    :param held: whether the ranges held the truth, of start, end and grams
    :param took_s: time for each brew
    """

    exact: list[bool] = field(default_factory=list)
    matched: int = 0
    read: int = 0
    true: int = 0
    start_errors_s: list[float] = field(default_factory=list)
    end_errors_s: list[float] = field(default_factory=list)
    gram_errors: list[float] = field(default_factory=list)
    held: list[tuple[bool, bool, bool]] = field(default_factory=list)
    took_s: list[float] = field(default_factory=list)

    @property
    def exact_share(self) -> float:
        return float(np.mean(self.exact))

    @property
    def f1(self) -> float:
        return 2.0 * self.matched / max(self.read + self.true, 1)

    @property
    def coverage(self) -> tuple[float, ...]:
        """The share of starts, of ends and of grams that their ranges held."""
        return tuple(float(np.mean(each)) for each in zip(*self.held, strict=True))

    def add(self, read: Iterable[ReadPour], brew: SimulatedBrew) -> None:
        """Hold what was read of one brew against its truth."""
        pours, truth = list(read), brew.truth.pours
        pairs = matches(pours, truth)
        self.exact.append(len(pairs) == len(pours) == len(truth))
        self.matched += len(pairs)
        self.read += len(pours)
        self.true += len(truth)
        for pour, true in pairs:
            early_s = pour.start_s - true.start_s
            latest_s = true.t_half_g_s if brew.truth.method == "espresso" else true.start_s
            if brew.truth.method == "espresso" and early_s > 0:
                early_s = max(pour.start_s - true.t_half_g_s, 0.0)
            if pour.between is not None:
                start, end, grams = pour.between
                self.held.append(
                    (
                        start[0] <= latest_s and true.start_s <= start[1],
                        end[0] <= true.end_s <= end[1],
                        grams[0] <= true.poured_g <= grams[1],
                    )
                )
            self.start_errors_s.append(early_s)
            self.end_errors_s.append(pour.end_s - true.end_s)
            self.gram_errors.append(pour.poured_g - true.poured_g)


def matches(read: list[ReadPour], true: tuple[TruePour, ...]) -> list[tuple[ReadPour, TruePour]]:
    """Pair pours that share more than half of what they span, greatest overlap first, each once."""
    shared = [
        (_overlap(pour, other), number, place)
        for number, pour in enumerate(read)
        for place, other in enumerate(true)
    ]
    pairs: list[tuple[ReadPour, TruePour]] = []
    used_read: set[int] = set()
    used_true: set[int] = set()
    for share, number, place in sorted(shared, reverse=True):
        if share > 0.5 and number not in used_read and place not in used_true:
            used_read.add(number)
            used_true.add(place)
            pairs.append((read[number], true[place]))
    return pairs


def _overlap(read: ReadPour, true: TruePour) -> float:
    both_s = min(read.end_s, true.end_s) - max(read.start_s, true.start_s)
    return both_s / (max(read.end_s, true.end_s) - min(read.start_s, true.start_s))


def spread(errors: list[float]) -> tuple[float, float]:
    """Give median and 95th percentile of the errors' size."""
    if not errors:
        return float("nan"), float("nan")
    sizes = np.abs(errors)
    return float(np.median(sizes)), float(np.percentile(sizes, 95))


def read_here(time_s: Floats, weight_g: Floats) -> list[ReadPour]:
    """Read with evencup."""
    return [read_pour(pour) for pour in analyse(time_s, weight_g).pours]


def read_pour(pour: Pour) -> ReadPour:
    """Give what evencup says of a pour in the form that all are scored in."""
    start, end, grams = pour.start_between_s, pour.end_between_s, pour.poured_between_g
    between = (start, end, grams) if start and end and grams else None
    return ReadPour(pour.start_s, pour.end_s, pour.poured_g, between)


def read_with_savgol(time_s: Floats, weight_g: Floats) -> list[ReadPour]:
    """Read with a smoothed derivative and two thresholds, steps faster than any kettle left out.

    The window (1.5 s), the thresholds (on above 1 g/s, off below 0.3 g/s) and the smallest pour (3 g) are the
    best of those tried on the easy brews.
    """
    even_s, even_g = even_weights(time_s, weight_g, 0.1)
    flow = savgol_filter(even_g, 15, 2, deriv=1, delta=0.1)
    flow[near(np.abs(np.gradient(even_g, 0.1)) > 25.0, 15)] = 0.0
    spans, since = [], None
    for at, value in enumerate(flow):
        if since is None and value > 1.0:
            since = at
            while since > 0 and flow[since - 1] > 0.3:
                since -= 1
        elif since is not None and value < 0.3:
            spans.append((since, at))
            since = None
    return _gained(spans, even_s, even_g)


def read_with_ruptures(time_s: Floats, weight_g: Floats) -> list[ReadPour]:
    """Read with a continuous piecewise linear model: rising pieces are pours, neighbouring ones are joined.

    Pieces steeper than any kettle's stream are vessels. Bottom-up merging with a penalty that grows with the
    noise; at 5 Hz, which did as well as any finer grid.
    """
    step_s = 0.2
    even_s, even_g = even_weights(time_s, weight_g, step_s)
    noise_g = max(float(np.median(np.abs(np.diff(even_g, n=2)))) / 1.65, 0.03)
    model = ruptures.BottomUp(model="clinear", min_size=2, jump=1).fit(even_g.reshape(-1, 1))
    ends = [0, *model.predict(pen=20.0 * noise_g**2 * np.log(even_g.size))]
    spans: list[tuple[int, int]] = []
    for first, end in pairwise(ends):
        last = min(end, even_g.size - 1)
        slope = (even_g[last] - even_g[first]) / max((last - first) * step_s, step_s)
        if not 0.5 < slope < 25.0:
            continue
        if spans and spans[-1][1] == first:
            spans[-1] = (spans[-1][0], last)
        else:
            spans.append((first, last))
    return _gained(spans, even_s, even_g)


READERS: dict[str, Callable[[Floats, Floats], list[ReadPour]]] = {
    "evencup": read_here,
    "derivative": read_with_savgol,
    "ruptures": read_with_ruptures,
}


def score(read: Callable[[Floats, Floats], list[ReadPour]], some: Iterable[SimulatedBrew]) -> Score:
    """Read brews by a method and score it."""
    result = Score()
    for brew in some:
        readings = weights(brew)
        began_s = perf_counter()
        pours = read(*readings)
        result.took_s.append(perf_counter() - began_s)
        result.add(pours, brew)
    return result


def even_weights(time_s: Floats, weight_g: Floats, step_s: float) -> tuple[Floats, Floats]:
    """Lay even times through readings: the mean over each step, straight lines where there is none."""
    edges = np.arange(time_s[0], time_s[-1] + step_s, step_s)
    counts, _ = np.histogram(time_s, edges)
    sums, _ = np.histogram(time_s, edges, weights=weight_g)
    centres = edges[:-1] + step_s / 2
    return centres, np.interp(centres, centres[counts > 0], sums[counts > 0] / counts[counts > 0])


def near(flags: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    """Widen flags by so many places either way."""
    return np.convolve(flags, np.ones(2 * reach + 1), mode="same") > 0


def _gained(spans: list[tuple[int, int]], even_s: Floats, even_g: Floats) -> list[ReadPour]:
    return [
        ReadPour(float(even_s[first]), float(even_s[last]), float(even_g[last] - even_g[first]))
        for first, last in spans
        if even_g[last] - even_g[first] >= 3.0
    ]

"""Many brews of the same target: how even they are, and how much that many brews can say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.compare.comparison import Brew, Comparison, Deviation, Quantity
from logger.compare.evenness_words import ENOUGH, change_first, how_even, why_enough
from logger.compare.measuring import shot_window_s
from logger.curve import Floats
from logger.target import Stage, Target, first_weight_s, last_s

GRID_S = 0.1

# Student's t at 0.95, for 1 to 30 degrees of freedom: NIST/SEMATECH e-Handbook, table 1.3.6.7.2.
_T95 = (
    6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812,
    1.796, 1.782, 1.771, 1.761, 1.753, 1.746, 1.740, 1.734, 1.729, 1.725,
    1.721, 1.717, 1.714, 1.711, 1.708, 1.706, 1.703, 1.701, 1.699, 1.697,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Scatter:
    """One figure over the brews.

    :param wanted: the target's value; the middle where it is a window
    :param limits: least and most that count as inside; NaN where they differ from brew to brew
    :param n: brews in which it was measured
    :param n_inside: of these, inside
    :param n_told: of these, those for which inside or outside can be told
    :param mean: NaN where n is 0
    :param sd: standard deviation of a sample; NaN where n is below 2
    :param likely: where the next brew falls nine times in ten (prediction interval, taking the brews for
        independent and normally spread); NaN below 3 brews
    """

    quantity: Quantity
    wanted: float
    limits: tuple[float, float]
    n: int
    n_inside: int
    n_told: int
    mean: float
    sd: float
    likely: tuple[float, float]

    @property
    def likely_inside(self) -> bool:
        """Whether the next brew falls inside nine times in ten."""
        return self.limits[0] <= self.likely[0] and self.likely[1] <= self.limits[1]

    @property
    def bias(self) -> float:
        """How far the brews are off on average."""
        return self.mean - self.wanted


@dataclass(frozen=True, slots=True)
class StageSpread:
    """One stage over the brews.

    :param n_missing: brews in which it is missing or ran together with another
    """

    stage: Stage
    figures: tuple[Scatter, ...]
    n: int
    n_inside: int
    n_missing: int


@dataclass(frozen=True, slots=True)
class Spread:
    """Brews of one target laid over each other at their first weight.

    :param time_s: even grid, the target's own axis, shape (t,)
    :param weight_g: NaN where a brew has no readings, shape (n, t)
    :param n_at: brews with a reading at each time, shape (t,)
    :param median_g: NaN where no brew has a reading, as are the next four
    :param stages: in the target's order; empty for espresso
    :param whole: total or yield, end
    :param n: brews that hold a brew; ``weight_g`` has their curves in the order given
    :param enough: whether they are enough to speak of even
    :param why: one sentence: what so many brews can and cannot say
    :param verdict: one sentence: how even they are, so far as can be told
    :param change: one sentence: what to change first, or empty
    """

    target: Target
    time_s: Floats
    weight_g: Floats
    n_at: NDArray[np.intp]
    median_g: Floats
    low_quartile_g: Floats
    high_quartile_g: Floats
    min_g: Floats
    max_g: Floats
    stages: tuple[StageSpread, ...]
    whole: tuple[Scatter, ...]
    n: int
    enough: bool
    why: str
    verdict: str
    change: str


def spread(brews: Sequence[Brew], target: Target) -> Spread:
    """Lay brews of one target over each other.

    :param brews: each compared with this target; those without a brew in them are left out
    """
    held = [brew for brew in brews if brew.analysis.start_s is not None and brew.comparison is not None]
    comparisons = [brew.comparison for brew in held if brew.comparison is not None]
    time_s = _grid(held, target)
    weight_g = np.array([_on_grid(brew, time_s, target) for brew in held]).reshape(len(held), time_s.size)
    stages = tuple(_stage_spread(comparisons, number, stage) for number, stage in enumerate(target.stages))
    whole = _whole(comparisons, target)
    n = len(held)
    return Spread(
        target=target,
        time_s=time_s,
        weight_g=weight_g,
        n_at=np.isfinite(weight_g).sum(axis=0),
        median_g=_quantile(weight_g, 0.5),
        low_quartile_g=_quantile(weight_g, 0.25),
        high_quartile_g=_quantile(weight_g, 0.75),
        min_g=_quantile(weight_g, 0.0),
        max_g=_quantile(weight_g, 1.0),
        stages=stages,
        whole=whole,
        n=n,
        enough=n >= ENOUGH,
        why=why_enough(n),
        verdict=how_even(n, stages, whole),
        change=change_first(n, stages, whole),
    )


def _grid(brews: Sequence[Brew], target: Target) -> Floats:
    """From the first weight to the end of the longest brew or of the target, on the target's axis."""
    since_s = first_weight_s(target)
    lasting_s = [(brew.analysis.end_s or 0.0) - (brew.analysis.start_s or 0.0) for brew in brews]
    until_s = max([last_s(target), *(since_s + length_s for length_s in lasting_s)])
    steps = np.arange(round((until_s - since_s) / GRID_S) + 1, dtype=np.float64)
    return steps * GRID_S + since_s


def _on_grid(brew: Brew, time_s: Floats, target: Target) -> Floats:
    """One brew's curve, laid on the target at its first weight; NaN in gaps and past its ends."""
    analysis = brew.analysis
    at_s = time_s - first_weight_s(target) + (analysis.start_s or 0.0)
    weight_g = np.interp(at_s, analysis.time_s, analysis.weight_g, left=np.nan, right=np.nan)
    for event in analysis.events:
        if event.kind == "gap":
            weight_g[(at_s > event.start_s) & (at_s < event.end_s)] = np.nan
    return weight_g


def _quantile(weight_g: Floats, share: float) -> Floats:
    """A quantile over the brews at each time, by straight lines between them; NaN where there is no brew.

    What ``numpy.nanquantile`` gives, without its loop over the times.
    """
    if not len(weight_g):
        return np.full(weight_g.shape[1], np.nan)
    ordered = np.sort(weight_g, axis=0)  # NaN last
    at = share * np.maximum(np.isfinite(weight_g).sum(axis=0) - 1, 0)
    below, above = np.floor(at).astype(np.intp), np.ceil(at).astype(np.intp)
    low_g = np.take_along_axis(ordered, below[np.newaxis], axis=0)[0]
    high_g = np.take_along_axis(ordered, above[np.newaxis], axis=0)[0]
    between: Floats = low_g + (at - below) * (high_g - low_g)
    return between


def _stage_spread(comparisons: Sequence[Comparison], number: int, stage: Stage) -> StageSpread:
    results = [comparison.stages[number] for comparison in comparisons]
    whole = [result for result in results if result.finding in ("matched", "split")]
    return StageSpread(
        stage=stage,
        figures=_scatters([result.deviations for result in whole]),
        n=len(results),
        n_inside=sum(result.inside is True for result in results),
        n_missing=sum(result.finding in ("missing", "merged") for result in results),
    )


def _whole(comparisons: Sequence[Comparison], target: Target) -> tuple[Scatter, ...]:
    scatters = _scatters([comparison.whole for comparison in comparisons])
    return tuple(_with_window(scatter, comparisons, target) for scatter in scatters)


def _with_window(scatter: Scatter, comparisons: Sequence[Comparison], target: Target) -> Scatter:
    """The limits of an espresso's times, which are windows."""
    shot = target.shot
    if shot is None or scatter.quantity not in ("end_s", "first_drip_s"):
        return scatter
    if scatter.quantity == "first_drip_s":
        limits = shot.first_drip_s or (math.nan, math.nan)
    else:
        pumps = {
            any(each.quantity == "first_drip_s" for each in comparison.whole) for comparison in comparisons
        }
        # From the pump in some and from the first drip in others: two different figures.
        limits = shot_window_s(shot, pumps.pop()) if len(pumps) == 1 else (math.nan, math.nan)
    return replace(scatter, wanted=sum(limits) / 2, limits=limits)


def _pump_known(comparison: Comparison) -> bool:
    return any(figure.quantity == "first_drip_s" for figure in comparison.whole)


def _scatters(brews: Sequence[Sequence[Deviation]]) -> tuple[Scatter, ...]:
    """Every figure over the brews, in the order in which they first appear."""
    figures: dict[Quantity, list[Deviation]] = {}
    for deviations in brews:
        for deviation in deviations:
            figures.setdefault(deviation.quantity, []).append(deviation)
    return tuple(_scatter(quantity, found) for quantity, found in figures.items())


def _scatter(quantity: Quantity, deviations: Sequence[Deviation]) -> Scatter:
    first = deviations[0]
    actual = np.array([each.actual for each in deviations if math.isfinite(each.actual)])
    n = int(actual.size)
    mean = float(actual.mean()) if n else math.nan
    sd = float(actual.std(ddof=1)) if n > 1 else math.nan
    return Scatter(
        quantity=quantity,
        wanted=first.wanted,
        limits=(first.wanted - first.tolerance, first.wanted + first.tolerance),
        n=n,
        n_inside=sum(each.inside is True for each in deviations),
        n_told=sum(each.inside is not None for each in deviations),
        mean=mean,
        sd=sd,
        likely=likely_next(mean, sd, n),
    )


def likely_next(mean: float, sd: float, n: int) -> tuple[float, float]:
    """Where the next value falls nine times in ten, judging by n values before it.

    :param sd: standard deviation of the sample
    :return: NaN below 3 values: two say next to nothing
    """
    if n < 3:
        return math.nan, math.nan
    reach = t95(n - 1) * sd * math.sqrt(1 + 1 / n)
    return mean - reach, mean + reach


def t95(degrees_of_freedom: int) -> float:
    """Student's t that is exceeded once in twenty."""
    if degrees_of_freedom <= len(_T95):
        return _T95[degrees_of_freedom - 1]
    normal = 1.6449
    return normal * (1 + (normal**2 + 1) / (4 * degrees_of_freedom))

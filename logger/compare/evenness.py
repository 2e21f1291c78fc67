"""Many brews of the same target: how even they are, and how much that many brews can say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.compare.comparison import Brew
from logger.compare.practice.results import (
    Practice,
    Scatter,
    StageSpread,
)
from logger.compare.practice.studying import study
from logger.curve import Floats
from logger.target import Target, first_weight_s, last_s

GRID_S = 0.1


@dataclass(frozen=True, slots=True)
class Spread:
    """Brews of one target laid over each other at their first weight.

    :param time_s: even grid, the target's own axis, shape (t,)
    :param weight_g: NaN where a brew has no readings, shape (n, t)
    :param n_at: brews with a reading at each time, shape (t,)
    :param median_g: NaN where no brew has a reading, as are the next four
    :param stages: in the target's order, with the figures that the target asks for; empty for espresso
    :param whole: total or yield, end
    :param practice: all that is said of how even they are, other figures included
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
    practice: Practice
    n: int
    enough: bool
    why: str
    verdict: str
    change: str


def spread(brews: Sequence[Brew], target: Target, *, strengths: Mapping[str, float] | None = None) -> Spread:
    """Lay brews of one target over each other.

    :param brews: each compared with this target; those without a brew in them are left out
    :param strengths: by recording name the strength, % of mass; None for what was noted with the recordings
    """
    held = [brew for brew in brews if brew.analysis.start_s is not None and brew.comparison is not None]
    time_s = _grid(held, target)
    weight_g = np.array([_on_grid(brew, time_s, target) for brew in held]).reshape(len(held), time_s.size)
    practice = study(brews, target, strengths=strengths)
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
        stages=tuple(_judged(stage) for stage in practice.stages),
        whole=tuple(figure for figure in practice.whole if figure.judged),
        practice=practice,
        n=practice.n,
        enough=practice.enough,
        why=practice.why,
        verdict=practice.verdict,
        change=practice.change,
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


def _judged(stage: StageSpread) -> StageSpread:
    return replace(stage, figures=tuple(figure for figure in stage.figures if figure.judged))

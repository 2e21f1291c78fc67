"""What an overlay says of each figure and each brew, for page and terminal alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from logger.show.words.wording import NBSP, amount, clock, inside_mark, quantity_words, short_clock, unit_of

if TYPE_CHECKING:
    from logger.compare import Brew, Scatter, Spread
    from logger.compare.practice import Scatter as PracticeScatter
    from logger.compare.standing_apart import Apart
    from logger.curve import Method

_FAR_OUT = 3.0
_THAN_THE_OTHERS = {
    "s": ("later than usual", "earlier than usual"),
    "g": ("more than usual", "less than usual"),
    "g/s": ("faster than usual", "slower than usual"),
    "°C": ("hotter than usual", "cooler than usual"),
    "%": ("stronger than usual", "weaker than usual"),
}

HEADS = ("stage", "wanted", "mean", "scatter", "inside", "likely next")


def held_brews(brews: Sequence[Brew]) -> list[Brew]:
    """Keep the brews that a spread is made of."""
    return [brew for brew in brews if brew.analysis.start_s is not None and brew.comparison is not None]


def why_besides(spread: Spread) -> str:
    """What so many brews can say, where the verdict has not said it already; else empty."""
    return "" if spread.why in spread.verdict else spread.why


def scatter_row(scatter: Scatter | PracticeScatter, method: Method, plain: bool = False) -> tuple[str, ...]:
    """Say what one figure did over the brews."""
    unit = unit_of(scatter.quantity)
    inside = f"{scatter.n_inside} of {scatter.n_told}" if scatter.n_told else "-"
    return (
        quantity_words(scatter.quantity, method),
        _wanted(scatter, unit),
        _value(scatter.mean, unit),
        amount(scatter.sd, unit) if math.isfinite(scatter.sd) else "-",
        inside,
        _likely(scatter, unit, plain),
    )


def _wanted(scatter: Scatter | PracticeScatter, unit: str) -> str:
    value = _value(scatter.wanted, unit)
    allowed = (scatter.limits[1] - scatter.limits[0]) / 2
    return f"{value} ±{allowed:.3g}" if math.isfinite(allowed) and allowed > 0 else value


def _value(value: float, unit: str) -> str:
    if not math.isfinite(value):
        return "-"
    return short_clock(value) if unit == "s" else amount(value, unit)


def _likely(scatter: Scatter | PracticeScatter, unit: str, plain: bool) -> str:
    low, high = scatter.likely
    if not (math.isfinite(low) and math.isfinite(high)):
        return "too few"
    words = f"{short_clock(low)}–{short_clock(high)}" if unit == "s" else f"{low:.1f}–{high:.1f}"
    if not all(math.isfinite(limit) for limit in scatter.limits):
        return words
    return f"{inside_mark(scatter.likely_inside, plain)}{NBSP}{words}"


@dataclass(frozen=True, slots=True)
class Distance:
    """How far a brew's curve went from the median of all.

    :param furthest_g: the largest distance, with its sign; NaN where there is no median
    :param at_s: when, from the first weight
    :param stands_apart: whether it lies far beyond the others by the rule of the box plot
    :param stage: the stage in which that is; empty where the target has none
    """

    furthest_g: float
    at_s: float
    stands_apart: bool
    stage: str = ""

    @property
    def words(self) -> str:
        """Say it."""
        if not math.isfinite(self.furthest_g):
            return "-"
        side = "above" if self.furthest_g > 0 else "below"
        return f"{amount(abs(self.furthest_g), 'g')} {side} at {clock(self.at_s)}"


def distances(spread: Spread) -> list[Distance]:
    """Measure how far each brew went from the median curve.

    A brew stands apart when its distance is over the upper quartile by 3 times the middle half's width, "far
    out" (Tukey, Exploratory Data Analysis, 1977; from memory); with too few brews none is called so.
    """
    from logger.target import first_weight_s

    if spread.n < 2:
        return [Distance(math.nan, math.nan, False) for _ in range(spread.n)]
    off_g = np.where(np.isfinite(spread.weight_g), spread.weight_g - spread.median_g, 0.0)
    off_g = np.where(np.isfinite(off_g), off_g, 0.0)
    at = np.argmax(np.abs(off_g), axis=1)
    furthest_g = off_g[np.arange(spread.n), at]
    low, high = np.quantile(np.abs(furthest_g), (0.25, 0.75))
    fence_g = high + _FAR_OUT * (high - low) if spread.enough else math.inf
    time_s = spread.time_s - first_weight_s(spread.target)
    return [
        Distance(
            float(one),
            float(time_s[index]),
            bool(abs(one) > fence_g),
            _stage_at(spread, float(time_s[index])),
        )
        for one, index in zip(furthest_g, at, strict=True)
    ]


def _stage_at(spread: Spread, time_s: float) -> str:
    """Name the stage that is under way."""
    begun = [stage.name for stage in spread.target.stages if stage.start_s <= time_s]
    return begun[-1] if begun else ""


def apart_words(aparts: Sequence[Apart], distance: Distance, method: Method) -> str:
    """Say in what a brew is unlike the others, the two plainest figures; else nothing."""
    if aparts:
        return "stands apart: " + "; ".join(_apart(apart, method) for apart in aparts[:2])
    if distance.stands_apart:
        where = f" in {distance.stage}" if distance.stage else ""
        return f"stands apart: its curve{where}, {distance.words}"
    return ""


def _apart(apart: Apart, method: Method) -> str:
    unit = unit_of(apart.quantity)
    more, less = _THAN_THE_OTHERS[unit]
    words = f"{quantity_words(apart.quantity, method)} {amount(abs(apart.off), unit)} "
    words += more if apart.off > 0 else less
    return f"{apart.stage}, {words}" if apart.stage else words

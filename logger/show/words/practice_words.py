"""What a practice set says, in the words and rows of page and terminal alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from logger.show.words.overlay_rows import scatter_row
from logger.show.words.wording import NBSP, amount, quantity_words, sentence, short_clock
from logger.show.words.wording import brews as count_of_brews

if TYPE_CHECKING:
    from logger.compare.practice import Estimate, Fix, Practice, Scatter, StageSpread
    from logger.curve import Method

EVENNESS_HEADS = (
    "figure", "wanted", "mean", "scatter", "trend", "Cpk", "inside", "likely next", "nine in ten of all",
)  # fmt: skip
FIX_HEADS = ("what is seen", "whose", "the next cup would be inside", "what to do")
FIX_SHORT_HEADS = ("if this alone were put right", "whose", "next inside", "told")
_WHOSE = {"hand": "hand", "bed": "bed", "water": "water", "cup": "cup"}
_TREND_TOLD = 0.05
_PERCENT = 100.0
MOST_FIXES = 6


def percent(share: float) -> str:
    """Write a probability."""
    return f"{_PERCENT * share:.0f}{NBSP}%" if math.isfinite(share) else "cannot be told"


def percent_between(estimate: Estimate) -> str:
    """Write a probability with its interval, where there is one."""
    if not math.isfinite(estimate.value):
        return "cannot be told"
    if not estimate.is_known:
        return percent(estimate.value)
    low, high = (f"{_PERCENT * edge:.0f}" for edge in (estimate.low, estimate.high))
    return f"{percent(estimate.value)} ({low} to {high}{NBSP}%)"


def evenness_row(scatter: Scatter, method: Method) -> tuple[str, ...]:
    """Say what one figure did over the brews, with how sure its mean and its scatter are."""
    name, wanted, _, _, inside, likely = scatter_row(scatter, method)
    inside = inside.replace(" ", NBSP)
    return (
        name,
        wanted,
        mean_words(scatter),
        spread_words(scatter),
        trend_words(scatter),
        estimate_words(scatter.cpk, 2),
        inside,
        likely,
        tolerance_words(scatter),
    )


def mean_words(scatter: Scatter) -> str:
    """Write the mean, give or take."""
    if not math.isfinite(scatter.mean):
        return "-"
    mean = short_clock(scatter.mean) if scatter.unit == "s" else amount(scatter.mean, scatter.unit)
    off = (scatter.average.high - scatter.average.low) / 2
    return f"{mean} ±{off:.1f}" if math.isfinite(off) else mean


def spread_words(scatter: Scatter) -> str:
    """Write the standard deviation with its interval."""
    spread = scatter.spread
    if not math.isfinite(spread.value):
        return "-"
    words = amount(spread.value, scatter.unit)
    return f"{words} {_between(spread, 1)}" if spread.is_known else words


def trend_words(scatter: Scatter) -> str:
    """Write by how much the figure moves from brew to brew, where that is more than chance."""
    if not math.isfinite(scatter.trend_p):
        return "-"
    if scatter.trend_p >= _TREND_TOLD or not math.isfinite(scatter.trend.value):
        return f"none{NBSP}told"
    return f"{scatter.trend.value:+.2f}{NBSP}{scatter.unit} a brew"


def estimate_words(estimate: Estimate, decimals: int) -> str:
    """Write a number without unit, with its interval."""
    if not math.isfinite(estimate.value):
        return "-"
    words = f"{estimate.value:.{decimals}f}"
    if not estimate.is_known:
        return words
    return f"{words} {_between(estimate, decimals)}"


def _between(estimate: Estimate, decimals: int) -> str:
    """Write an interval, in one piece."""
    return f"({estimate.low:.{decimals}f} to {estimate.high:.{decimals}f})".replace(" ", NBSP)


def tolerance_words(scatter: Scatter) -> str:
    """Write where nine in ten of all brews fall; a band is printed only where the brews carry it."""
    held = scatter.tolerance
    if not held.tight:
        return "too few" if not math.isfinite(held.factor) else f"mean ±{held.factor:.1f} SD"
    if scatter.unit == "s":
        return f"{short_clock(held.low)}–{short_clock(held.high)}"
    return f"{held.low:.1f}–{held.high:.1f}"


def stage_words(stage: StageSpread) -> str:
    """Say beside a stage's name how often it is inside, and will be."""
    words = f"{stage.n_inside} of {stage.n} inside"
    if stage.n_missing:
        words += f", missing or run together in {stage.n_missing}"
    if math.isfinite(stage.inside.value):
        words += f"; the next one: {percent_between(stage.inside)}"
    return words


def count_of(n: int, method: Method) -> str:
    """Count brews, which are shots where they are espressos."""
    if method != "espresso":
        return count_of_brews(n)
    return "1 shot" if n == 1 else f"{n} shots"


def fix_row(fix: Fix) -> tuple[str, ...]:
    """Say what would change if one thing were put right."""
    gain = f"{percent(fix.then)}, now {percent(fix.now)}"
    return (sentence(fix.says), _WHOSE[fix.kind], gain, fix_advice(fix))


def fix_short_row(fix: Fix, method: Method) -> tuple[str, ...]:
    """The same in few words, for the terminal."""
    return fix_name(fix, method), _WHOSE[fix.kind], percent(fix.then), _when_told(fix)


def fix_advice(fix: Fix) -> str:
    """Say what to do about it; where the brews do not carry that, how many more it takes."""
    if fix.carried and fix.change:
        words = sentence(fix.change)
        return f"{words} {fix.rule}" if fix.rule else words
    if fix.brews_needed is None:
        return "Not told: no number of brews that anybody makes would tell."
    return f"Not told yet: about {_more(fix.brews_needed)} would." if fix.brews_needed else "Not told yet."


def _when_told(fix: Fix) -> str:
    """Say of an advice that the brews do not carry yet when they would."""
    if fix.carried or fix.brews_needed is None:
        return "" if fix.carried else "cannot be told"
    return f"after {_more(fix.brews_needed)}"


def _more(count: int) -> str:
    return "1 more brew" if count == 1 else f"{count} more brews"


def shown_figures(figures: Sequence[Scatter]) -> list[Scatter]:
    """Keep the figures that the target judges, and those of bed and cup, which it need not."""
    return [scatter for scatter in figures if scatter.judged or scatter.kind in ("bed", "cup")]


def shown_fixes(practice: Practice) -> Sequence[Fix]:
    """Keep the fixes that would help, the most first, no more than one reads."""
    return [fix for fix in practice.fixes if fix.gain > 0][:MOST_FIXES]


def figure_name(scatter: Scatter, method: Method) -> str:
    """Name a figure with its stage: ``pour 3, weight``."""
    name = quantity_words(scatter.quantity, method)
    return f"{scatter.stage}, {name}" if scatter.stage else name


def fix_name(fix: Fix, method: Method) -> str:
    """Name a fix shortly: ``pour 3, weight: scatter``."""
    name = quantity_words(fix.quantity, method)
    what = "on average" if fix.part == "mean" else "scatter"
    return f"{fix.stage}, {name}: {what}" if fix.stage else f"{name}: {what}"

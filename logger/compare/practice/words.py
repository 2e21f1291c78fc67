"""What a practice set says in sentences: the next cup, what to change first, what to know besides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from logger.compare.comparison import Quantity
from logger.compare.evenness_words import ENOUGH, noun_of
from logger.compare.practice.chance import ALPHA
from logger.compare.practice.estimates import (
    Estimate,
)
from logger.compare.practice.results import (
    Fix,
    NextCup,
    Scatter,
    StageSpread,
)

_NEAR = 0.02
"""Two fixes whose gains differ by less help alike."""


def next_cup_words(cup: NextCup) -> NextCup:
    """Put the probability into a sentence."""
    return replace(cup, says=" ".join(part for part in (_chance(cup), _left_out(cup)) if part))


def _chance(cup: NextCup) -> str:
    inside = cup.inside
    if not inside.is_known:
        if not cup.counted:
            return "No figure of the target can be told: nothing can be said of the next cup."
        return (
            f"{brews(cup.n + cup.n_skipped)} cannot say how likely the next cup is inside: 3 are the least."
        )
    words = (
        f"The next cup is inside on every stage with a probability of {percent(inside.value)} "
        f"({percent_range(inside)}, {inside.confidence:.0%} interval from {brews(inside.n)})"
    )
    few = ": so few brews can say no more" if inside.n < ENOUGH and inside.high - inside.low > 0.3 else ""
    return f"{words}{few}."


def _left_out(cup: NextCup) -> str:
    said = []
    if cup.n_skipped:
        said.append(f"in {brews(cup.n_skipped)} a pour was skipped, ran into another or was one too many")
    if cup.n_cut_off:
        said.append(
            f"{brews(cup.n_cut_off)} could not be told in every figure and {_are(cup.n_cut_off)} left out"
        )
    if cup.uncounted:
        names = sorted({figure_name(stage, quantity) for stage, quantity, _ in cup.uncounted})
        said.append(f"not counted: {', '.join(names)} ({cup.uncounted[0][2]})")
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def figure_name(stage: str, quantity: Quantity) -> str:
    """Name a figure: ``pour 1, its weight``."""
    return f"{stage or 'the brew'}, {noun_of(quantity)}"


def change_words(fixes: Sequence[Fix], stages: Sequence[StageSpread], n: int) -> str:
    """Say the one thing to work on first; empty where nothing stands out or the brews are too few."""
    if n < 3:
        return ""
    skipped = max(stages, key=lambda each: each.n_missing, default=None)
    if skipped is not None and skipped.n_missing * 2 > n:
        name, times = skipped.stage.name, skipped.n_missing
        return f"{name} is missing or runs into another in {times} of {n} brews: start there."
    carried = [fix for fix in fixes if fix.carried]
    if not carried:
        return _not_yet(fixes[0], n) if fixes else ""
    first = carried[0]
    return f"{first.says}: {first.change[:1].lower()}{first.change[1:]}{_gain(first)}"


def _gain(fix: Fix) -> str:
    return f" The next cup would then be inside with {percent(fix.then)} instead of {percent(fix.now)}."


def _not_yet(fix: Fix, n: int) -> str:
    """Say what seems to matter most, and what it takes to be sure."""
    if fix.brews_needed is None:
        return ""
    more = f"about {brews(fix.brews_needed)} more will tell" if fix.brews_needed else "more brews will tell"
    what = f"So far {figure_name(fix.stage, fix.quantity)}, seems to cost most"
    return f"{what}, but {brews(n)} cannot carry advice: {more}."


def notes_on(figures: Sequence[Scatter], fixes: Sequence[Fix], n: int) -> tuple[str, ...]:
    """What the reader must know besides."""
    notes = []
    few = [each for each in figures if each.judged and each.n >= 2 and not each.tolerance.tight]
    if few and n < ENOUGH:
        notes.append(few[0].tolerance.says)
    for each in figures:
        if math.isfinite(each.trend_p) and each.trend_p <= ALPHA and each.judged:
            per = f"{each.trend.value:+.2f} {each.trend.unit}"
            notes.append(
                f"{figure_name(each.stage, each.quantity)}, drifts over practice: {per}. "
                "The probability of the next cup takes it for steady."
            )
    if len(fixes) > 1 and fixes[0].carried and fixes[1].carried and fixes[0].gain - fixes[1].gain < _NEAR:
        second = fixes[1]
        notes.append(f"{figure_name(second.stage, second.quantity)}, would help as much.")
    return tuple(notes)


def percent(share: float) -> str:
    """Write a probability; what is nearly sure is not called sure."""
    if not math.isfinite(share):
        return "an unknown share"
    if share > 0.99:
        return "over 99 %"
    if share < 0.01:
        return "under 1 %"
    return f"{100 * share:.0f} %"


def percent_range(estimate: Estimate) -> str:
    """Write the interval of a probability: ``41 to 80 %``."""
    high = "over 99" if estimate.high > 0.99 else f"{100 * estimate.high:.0f}"
    return f"{100 * estimate.low:.0f} to {high} %"


def brews(count: int) -> str:
    """Count brews."""
    return "1 brew" if count == 1 else f"{count} brews"

"""What is said when a brew is over: how it went, what to change, and how sure that is."""

from __future__ import annotations

from logger.compare import Comparison, Deviation
from logger.guide.cue import Sure, Verdict

CLEAR = 2.0
"""A figure as many tolerances off is no accident of the scale."""

_ONE_BREW = "One brew tells what happened, not what usually happens: look at several before you change much."


def verdict_of(comparison: Comparison) -> Verdict:
    """Say it of one brew, held against its target."""
    figures = [*(each for result in comparison.stages for each in result.deviations), *comparison.whole]
    outside = [figure for figure in figures if figure.inside is False]
    untold = [figure for figure in figures if figure.inside is None]
    sure, why = _how_sure(comparison, outside, untold)
    return Verdict(comparison.verdict, comparison.change, sure, why)


def _how_sure(comparison: Comparison, outside: list[Deviation], untold: list[Deviation]) -> tuple[Sure, str]:
    gone = any(result.finding in ("missing", "merged") for result in comparison.stages)
    if gone or comparison.extra:
        return "sure", "A pour that is missing, or one too many, is plain to see."
    if not outside:
        if untold:
            return "unsure", f"Not everything could be told: {untold[0].why}."
        return "sure", "Every figure could be told, and is inside."
    worst = max(_tolerances_off(figure) for figure in outside)
    if worst >= CLEAR:
        return "sure", f"It is {worst:.1f} tolerances off. {_ONE_BREW}"
    return "likely", f"It is not far outside. {_ONE_BREW}"


def _tolerances_off(figure: Deviation) -> float:
    return abs(figure.difference) / (figure.tolerance or 1.0)

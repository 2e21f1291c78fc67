"""How sure a report of one brew can be: what one brew can show, and what the scale can resolve."""

from __future__ import annotations

import math
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from logger.compare import Brew
    from logger.curve import Analysis

    Known = tuple[tuple[float, float] | None, float]

ONE_BREW = (
    "One brew shows what happened this time. What happens every time, “evencup overlay” shows from several."
)
GIVE_OR_TAKE = "± is give or take: nine times in ten it was no further off, as far as the curve can tell."


def reading_uncertainty_g(analysis: Analysis) -> float:
    """Say how far one weight may be off by the scale's own step and scatter, for about 95 in 100.

    Twice the standard uncertainty; a display's step counts as a rectangle of standard deviation 0.29 steps
    (JCGM 100:2008, F.2.2.1). The scale's calibration and drift are not in it.
    """
    return 2.0 * math.hypot(analysis.noise_g, analysis.step_g / math.sqrt(12.0))


def how_sure(brew: Brew) -> tuple[str, ...]:
    """Say in sentences how far this report can be trusted."""
    analysis = brew.analysis
    sentences = [ONE_BREW]
    uncertainty_g = reading_uncertainty_g(analysis)
    if analysis.step_g > 0 and math.isfinite(uncertainty_g):
        sentences.append(
            f"The scale shows steps of {analysis.step_g:.2g} g; by its step and scatter a weight is good to "
            f"about ±{uncertainty_g:.2g} g, calibration and drift not counted."
        )
    if words := pours_known(analysis):
        sentences.append(words)
    return tuple(sentences)


def pours_known(analysis: Analysis) -> str:
    """Say how well the pours are known, as their curve tells; nothing where it does not."""
    start_s = _usual((pour.start_between_s, pour.start_s) for pour in analysis.pours)
    end_s = _usual((pour.end_between_s, pour.end_s) for pour in analysis.pours)
    poured_g = _usual((pour.poured_between_g, pour.poured_g) for pour in analysis.pours)
    if start_s is None or end_s is None or poured_g is None:
        return ""
    if analysis.method == "espresso":
        # The first drops weigh less than the display shows.
        return (
            f"The first drip may have fallen up to {start_s:.1f} s before it shows on the scale; the end is "
            f"good to about ±{end_s:.1f} s and the yield to ±{poured_g:.1f} g, nine times in ten."
        )
    return (
        f"A pour's start is good to about ±{start_s:.1f} s, its end to ±{end_s:.1f} s and what was poured to "
        f"±{poured_g:.1f} g, nine times in ten."
    )


def _usual(known: Iterable[Known]) -> float | None:
    """The middle of how far figures may be off, never less than can be shown; None where none is known."""
    offs = [max(between[1] - was, was - between[0]) for between, was in known if between is not None]
    return max(median(offs), 0.1) if offs else None

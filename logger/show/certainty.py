"""How sure a report of one brew can be: what one brew can show, and what the scale can resolve."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logger.compare import Brew
    from logger.curve import Analysis

ONE_BREW = (
    "One brew shows what happened this time. What happens every time, “evencup overlay” shows from several."
)


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
    return tuple(sentences)

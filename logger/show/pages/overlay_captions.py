"""What to see in the figure of an overlay, in one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from logger.show.curves.overlay_curves import LEAST_FOR_HALF, LEAST_FOR_MOST
from logger.show.words.practice_words import count_of

if TYPE_CHECKING:
    from logger.show.curves.overlay_curves import Curves
    from logger.target import Target


def overlay_caption(curves: Sequence[Curves], target: Target) -> str:
    """Say what to look for: where the spread leaves what the target allows, and how wide it is."""
    n = max((one.n for one in curves), default=0)
    first = "drop in the cup" if target.shot else "water on the scale"
    allowed = "the pale band with dotted edges is what the target allows, the dashed line the plan"
    brews = count_of(n, target.method)
    seen = f"Where lines or spread leave the pale band, the target is missed: {brews} lie over each other"
    return f"{seen} from the first {first} on; {allowed}{_spread_words(n)}."


def _spread_words(n: int) -> str:
    if n < 3:
        return ""
    words = ", the thick line the median of the brews"
    if n >= LEAST_FOR_HALF:
        words += "; the darker band holds the middle half of them at each moment"
    if n >= LEAST_FOR_MOST:
        words += ", its pale rim nine in ten"
    return words

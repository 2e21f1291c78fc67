"""When an espresso's first drop may have fallen: before what the scale shows of it.

An espresso comes in single drops before it runs, of 0.03 to 0.06 g each (common practice). The first of them
do not show on the display, and what they bring hides in its step and its noise for as long as they come
slowly: so long before the start that was read the first one may have fallen. Between that drop and the first
half gram any start is right; the range of the start says from when on.
"""

from __future__ import annotations

import math
from dataclasses import replace

from logger.curve.brew import Pour
from logger.curve.fading import ENDS_AT_G_S

DRIPS_FIRST_S = 1.5
"""For so long single drops come before they join into a stream, on the quietest scale as well."""


def unseen_drops_s(noise_g: float, step_g: float) -> float:
    """For how long before a start that was read drops may have come that the scale does not show.

    :param noise_g: standard deviation of one reading
    :param step_g: the step of the display
    """
    return DRIPS_FIRST_S + (0.5 * step_g + noise_g) / ENDS_AT_G_S


def with_first_drops(pours: tuple[Pour, ...], noise_g: float, step_g: float) -> tuple[Pour, ...]:
    """Widen an espresso's ranges by what its first drops hide; parameters as above.

    Its starts may be earlier, and what fell until they were seen passes for an empty cup: there may be more.
    """
    unseen_s = unseen_drops_s(noise_g, step_g)
    return tuple(_with_first_drops(pour, unseen_s) for pour in pours)


def _with_first_drops(pour: Pour, unseen_s: float) -> Pour:
    start, grams = pour.start_between_s, pour.poured_between_g
    if start is not None:
        start = pour.start_s - math.hypot(pour.start_s - start[0], unseen_s), start[1]
    if grams is not None:
        grams = grams[0], pour.poured_g + math.hypot(grams[1] - pour.poured_g, ENDS_AT_G_S * unseen_s)
    return replace(pour, start_between_s=start, poured_between_g=grams)

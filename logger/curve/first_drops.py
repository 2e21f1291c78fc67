"""When an espresso's first drop may have fallen: before what the scale shows of it.

An espresso comes in single drops before it runs, of 0.03 to 0.06 g each (common practice). The first of them
do not show on the display, and what they bring hides in its step and its noise for as long as they come
slowly: so long before the start that was read the first one may have fallen. Between that drop and the first
half gram any start is right; the range of the start says from when on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

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
    """Widen the ranges of an espresso's starts by what its first drops hide; parameters as above."""
    unseen_s, widened = unseen_drops_s(noise_g, step_g), []
    for pour in pours:
        if pour.start_between_s is None:
            widened.append(pour)
            continue
        low_s, high_s = pour.start_between_s
        low_s = pour.start_s - float(np.hypot(pour.start_s - low_s, unseen_s))
        widened.append(replace(pour, start_between_s=(low_s, high_s)))
    return tuple(widened)

"""How a hand tips a kettle, which nobody can see: softly or evenly.

Half a cosine of length ``R`` is fitted best by a straight ramp of ``2 R / pi`` about the same middle. So its
first water is 0.28 straight ramps earlier than the straight ramp's, and at 6 g/s its flow falls below 0.1 g/s
0.17 ramps later. A stream that breaks loose at once can be seen: there is no water before it.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats

SOFT_START, SOFT_END = 0.28, 0.17
SOFTEST_S = 1.5
"""What takes longer is no hand's tipping."""


def first_water_s(straight_s: Floats, ramps_s: Floats) -> tuple[Floats, ...]:
    """When the first water came, where a straight ramp began at a time: as likely as each other.

    Two tips in five are soft.

    :param straight_s: when each straight ramp begins
    :param ramps_s: how long each takes
    """
    soft_s = straight_s - SOFT_START * np.minimum(ramps_s, SOFTEST_S)
    return straight_s, straight_s, straight_s, soft_s, soft_s


def end_s(straight_s: Floats, ramps_s: Floats) -> tuple[Floats, ...]:
    """When the flow fell below 0.1 g/s, where a straight ramp does so at a time; parameters alike."""
    return straight_s, straight_s + SOFT_END * np.minimum(ramps_s, SOFTEST_S)

"""How a hand tips a kettle, which nobody can see: softly, evenly, or so that the water breaks loose at once.

Half a cosine of length ``R`` is fitted best by a straight ramp of ``2 R / pi`` about the same middle. So its
first water is 0.28 straight ramps earlier than the straight ramp's, and at 6 g/s its flow falls below 0.1 g/s
0.17 ramps later. A flow that comes up as ``1 - exp(-t / d)`` has the middle and the spread of a straight ramp
of ``sqrt(12) d``: its first water is 0.21 ramps later. So is that of a spout that holds its water back until
a stream breaks loose (water keeps to a lip some 3 mm high).
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats

SOFT_START, SOFT_END, LOOSE_START = 0.28, 0.17, 0.2
SOFTEST_S = 1.5
"""What takes longer is no hand's tipping."""


def first_water_s(straight_s: Floats, ramps_s: Floats) -> tuple[Floats, ...]:
    """When the first water came, where a straight ramp began at a time: as likely as each other.

    A stream that breaks loose is half as likely as a soft one or an even one: kettles with a spout are made
    so that it does not.

    :param straight_s: when each straight ramp begins
    :param ramps_s: how long each takes
    """
    ramps_s = np.minimum(ramps_s, SOFTEST_S)
    soft_s, loose_s = straight_s - SOFT_START * ramps_s, straight_s + LOOSE_START * ramps_s
    return straight_s, straight_s, soft_s, soft_s, loose_s


def end_s(straight_s: Floats, ramps_s: Floats) -> tuple[Floats, ...]:
    """When the flow fell below 0.1 g/s, where a straight ramp does so at a time; parameters alike."""
    return straight_s, straight_s + SOFT_END * np.minimum(ramps_s, SOFTEST_S)

"""How a hand tips a kettle, which nobody can see: softly or evenly.

Half a cosine of length ``R`` is fitted best by a straight ramp of ``2 R / pi`` about the same middle. So its
first water is 0.28 straight ramps earlier than the straight ramp's. A stream that breaks loose at once can be
seen: there is no water before it.

Its end is hardly later. At 6 g/s half a cosine would fall below 0.1 g/s 0.17 straight ramps after the
straight one, but below 0.4 g/s or so there is no stream any more: it breaks off, 0.04 ramps after the
straight one's end. What still hangs on the spout then is weighed by itself, as what fades and as drops. An
espresso thins out to drops that count as flow.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats

SOFT_START, SOFT_END, THIN_SOFT_END = 0.28, 0.04, 0.17
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


def end_s(straight_s: Floats, ramps_s: Floats, *, is_thin: bool) -> tuple[Floats, Floats]:
    """When the flow fell below 0.1 g/s, where a straight ramp does so at a time; parameters alike."""
    soft_end = THIN_SOFT_END if is_thin else SOFT_END
    return straight_s, straight_s + soft_end * np.minimum(ramps_s, SOFTEST_S)

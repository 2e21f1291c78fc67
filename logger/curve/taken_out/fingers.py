"""The finger on the tare key: it bears on the pan as well, and is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from logger.curve.brew import Event, Floats
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Samples

LONGEST_PRESS_S, HARDEST_PRESS_G, BESIDE_KEY_S = 2.5, 12.0, 0.6
"""So long a finger bears on the key, with so much at the most; it is hardly gone as the key works."""
PRESSED_S, LIGHTEST_PRESS_G = 0.8, 0.5
"""Where it is seen to bear, it does so for hardly longer before the key works, and with no less."""
LEAVES_S, RESTS_S, LOOKS_EVERY_S = 2.0, 0.8, 0.2
"""So long after the key it has gone, and the display shows that; so long one rests on which nothing is
poured; and how closely it is looked for."""
FEWEST = 4


def is_finger_on_key(start_s: float, end_s: float, gained_g: float, events: Sequence[Event]) -> bool:
    """Whether what rises is the finger that presses the tare key, and is counted as nothing then.

    No hand pours so little and has put the kettle down by then.
    """
    if gained_g > HARDEST_PRESS_G or end_s - start_s > LONGEST_PRESS_S:
        return False
    return any(
        event.kind == "tare" and event.start_s - BESIDE_KEY_S < end_s < event.end_s + BESIDE_KEY_S
        for event in events
    )


def pressed_with_a_finger(
    samples: Samples, last: int, after: int, noise_g: float, step_g: float
) -> tuple[int, int, float] | None:
    """Say between which readings a finger bore on the key, and by how much the key moved the display.

    A key that works when the finger has left takes away what it pressed with; one that works while it bears
    leaves the display as much below zero. Where the display rested before, and rests after it, nothing was
    poured then: the key moved it from the one to the other.

    :param last: the last reading before the key, with the first one ``after`` it
    :returns: the last reading before the finger, the first at which the display rests, what the key changed;
        None where no finger was seen
    """
    time, weight = samples.time_s, samples.weight_g
    still_g = max(6.0 * noise_g, 1.5 * step_g)
    pressed_s = time[last] - PRESSED_S
    first, end = time.searchsorted([pressed_s - RESTS_S, pressed_s]).tolist()
    if not _rests(weight[first:end], noise_g, still_g):
        return None
    rested_g, least_g = median(weight[first:end]), max(still_g, LIGHTEST_PRESS_G)
    pressed_g = weight[end : last + 1] - rested_g
    if pressed_g[-1] < -least_g:
        return _let_go(samples, last, after, noise_g, still_g)
    if least_g < pressed_g[-1] < HARDEST_PRESS_G:
        last = end - 1 + int((pressed_g > still_g).argmax())
    elif pressed_g[-1] > least_g:
        return None
    rests = _rests_after(samples, after, noise_g, still_g)
    if rests is None:
        return None
    settled, rests_g = rests
    left_g = float(weight[after]) - rests_g
    left = settled > after and least_g < left_g < HARDEST_PRESS_G
    if not left and (settled > after or pressed_g[-1] <= least_g):
        return None
    return last, settled, rests_g - rested_g


def _let_go(
    samples: Samples, last: int, after: int, noise_g: float, still_g: float
) -> tuple[int, int, float] | None:
    """Say the same of a finger that is let go just before the key works: as it came, the display rested."""
    time, weight = samples.time_s, samples.weight_g
    begins = int(time.searchsorted(time[last] - LONGEST_PRESS_S))
    came = begins + int((weight[begins:last] - weight[last] > still_g).argmax())
    first = int(time.searchsorted(time[came] - RESTS_S))
    if not _rests(weight[first:came], noise_g, still_g):
        return None
    rested_g = median(weight[first:came])
    if abs(rested_g - float(weight[last])) > still_g or weight[came:last].max() > rested_g + HARDEST_PRESS_G:
        return None
    rests = _rests_after(samples, after, noise_g, still_g)
    return (came - 1, rests[0], rests[1] - rested_g) if rests else None


def _rests_after(samples: Samples, after: int, noise_g: float, still_g: float) -> tuple[int, float] | None:
    """Give the first reading at which the display rests after the key, and the level there."""
    time, weight = samples.time_s, samples.weight_g
    for begins_s in np.arange(time[after], time[after] + LEAVES_S, LOOKS_EVERY_S).tolist():
        if begins_s + RESTS_S > time[-1]:
            return None
        first, until = time.searchsorted([begins_s, begins_s + RESTS_S]).tolist()
        if _rests(weight[first:until], noise_g, still_g):
            return first, median(weight[first:until])
    return None


def _rests(weight_g: Floats, noise_g: float, still_g: float) -> bool:
    """Whether a display neither flickers nor rises, as far as its noise lets that be seen."""
    if weight_g.size < FEWEST or weight_g.max() - weight_g.min() > still_g:
        return False
    half = weight_g.size // 2
    rises_g = abs(float(weight_g[-half:].sum() - weight_g[:half].sum())) / half
    return rises_g < 3.0 * noise_g * math.sqrt(2.0 / half)

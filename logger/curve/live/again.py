"""When a pour that was told early is worth another look.

It is told as soon as its end is seen. More of the same is known with every reading that comes, of a stream
that fades above all; but each look costs as much as the first, so the next one waits for as much again.
"""

from __future__ import annotations

import math

import numpy as np

from logger.curve.brew import Floats, Pour
from logger.curve.live.seen_whole import is_sure
from logger.curve.pours.certainty import Sure
from logger.curve.pours.finding import LEAST_POUR_G
from logger.curve.readings.noise import display_step_g
from logger.curve.readings.timebase import GAP_S, silences_s
from logger.curve.taken_out.disturbances import LEAST_STIR_G

AGAIN_S, LONGER = 0.5, 2.0
"""No sooner than that; and when so many times as much has been seen as the last time."""

FADES_S = 1.5
"""Until so long after its end an espresso is looked at: what is seen within the seconds after that tells
hardly more of it, and once it rests all of it is looked at."""

DRIPS_S = 1.3
"""So long after its end a kettle's stream that is not sure is looked at once more: its spout dripped on."""

WHOLE_S, WHOLE_THIN_S = 4.3, 6.3
"""An end is weighed with no more than that after it: a later reading sees nothing new of it."""

FLICKERS = 1.3
"""In steps of the display: what moves by less is neither a knock nor stirring."""

MOVED_S = 1.0
"""What comes to rest within that after a pour was told is the end of that pour."""


class Again:
    """What was told last, and when to look at it again."""

    def __init__(self) -> None:
        self.due_s = math.inf
        """When to look again."""
        self._told_at_s = self._whole_s = -math.inf
        self._end_s, self._fades, self._is_sure = -math.inf, False, False

    def told(self, pour: Pour, edges: Sure, time_s: float) -> None:
        """Know that a pour was told, or told again."""
        self._told_at_s, self._end_s, self._fades = time_s, pour.end_s, edges.thin
        self._whole_s = pour.end_s + (WHOLE_THIN_S if edges.thin else WHOLE_S)
        self._is_sure = is_sure(pour, edges)
        self.looked(time_s)
        if edges.pulled:
            self._whole_s, self.due_s = time_s, math.inf

    def told_all(self, time_s: float) -> None:
        """Know that what rose was told for good, and was no pour."""
        self._told_at_s = self._whole_s = time_s
        self._is_sure, self.due_s = True, math.inf

    def looked(self, time_s: float) -> None:
        """Know that it was looked at; say to oneself when to do so again."""
        seen_s = time_s - self._end_s
        if self._fades:
            again_s = max(time_s + AGAIN_S, self._end_s + LONGER * seen_s)
            self.due_s = again_s if seen_s < FADES_S else math.inf
            return
        again_s = self._end_s + DRIPS_S
        self.due_s = again_s if not self._is_sure and time_s < again_s - AGAIN_S else math.inf

    def over(self) -> None:
        """Know that something else goes on: nothing is looked at again."""
        self.due_s = math.inf

    def waits(self, time_s: float, rests_since_s: float) -> bool:
        """Whether what has come to rest is what was told, and more of its end is still to be seen."""
        return rests_since_s < self._told_at_s + MOVED_S and time_s < self._whole_s

    def knows(self, rests_since_s: float, told_s: float, since: tuple[Floats, Floats]) -> bool:
        """Whether all is known of what has come to rest: it is what was told, or nothing moved since.

        :param told_s: up to when all that the readings hold was told
        :param since: times and weights of those that came then and since, shape (n,) each, n at least 1
        """
        if self._is_sure and rests_since_s < self._told_at_s + MOVED_S:
            return True
        return (self._is_sure or told_s >= self._whole_s) and _flickers(*since)


def _flickers(time_s: Floats, shown_g: Floats) -> bool:
    """Whether a display shows one of its steps more or less at the most, and without a gap: nothing can be
    found in that.
    """
    moved_g = float(np.ptp(shown_g))
    if moved_g >= LEAST_POUR_G or silences_s(time_s, GAP_S):
        return False
    return moved_g < LEAST_STIR_G or moved_g < FLICKERS * display_step_g(shown_g)

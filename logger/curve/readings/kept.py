"""The readings that a live analysis still keeps: appended one by one, read all at once."""

from __future__ import annotations

from array import array
from bisect import bisect_left

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.timebase import Samples, samples_of_checked

MOST_READINGS = 8192
ENOUGH_S, ENOUGH_READINGS, MORE = 12.0, 150, 1.5
"""So long and so many are kept at the least, before what comes; times as much, before any is dropped."""


class Kept:
    """Times, never descending, and weights of the readings that are kept, oldest first."""

    def __init__(self) -> None:
        self._time, self._weight = array("d"), array("d")
        self._add_s, self._add_g = self._time.append, self._weight.append

    def __len__(self) -> int:
        return len(self._time)

    @property
    def first_s(self) -> float:
        """When the oldest of them arrived."""
        return self._time[0]

    @property
    def is_full(self) -> bool:
        """Whether there are more than are ever kept."""
        return len(self._time) > MOST_READINGS

    def append(self, time_s: float, weight_g: float) -> None:
        """Keep one more."""
        self._add_s(time_s)
        self._add_g(weight_g)

    def enough_from_s(self, now_s: float) -> float | None:
        """From when on there are enough of them; None where there are hardly more than that."""
        if now_s - self.first_s < MORE * ENOUGH_S or len(self) < MORE * ENOUGH_READINGS:
            return None
        return min(now_s - ENOUGH_S, self._time[-ENOUGH_READINGS])

    def weight_g(self, place: int) -> float:
        """What one of them says."""
        return self._weight[place]

    def since(self, time_s: float) -> tuple[Floats, Floats]:
        """Times and weights of those that came at a time and after it, shape (n,) each."""
        first = bisect_left(self._time, time_s)
        return np.array(self._time[first:]), np.array(self._weight[first:])

    def samples(self) -> Samples:
        """Give them all, to be read."""
        return samples_of_checked(np.array(self._time), np.array(self._weight))

    def drop_before(self, time_s: float) -> None:
        """Forget what came before."""
        first = bisect_left(self._time, time_s)
        del self._time[:first], self._weight[:first]

    def thin_out(self) -> None:
        """Thin out the older half of a flow, or of handling, that does not want to end."""
        half = MOST_READINGS // 2
        self._time[:half] = self._time[:half:2]
        self._weight[:half] = self._weight[:half:2]

"""Where a replay stands: speed, pause, seeking, and a stretch that is played again and again."""

from __future__ import annotations

import math
from collections.abc import Sequence

SLOWEST, FASTEST = 0.25, 64.0
BEFORE_POUR_S, AFTER_POUR_S = 3.0, 4.0
"""So much around a pour is played with it."""

Stretch = tuple[float, float]


class Playhead:
    """A position on the recording's time axis that moves with the wall clock.

    :param end_s: of the recording
    :param speed: recorded seconds per second; infinite for as fast as possible
    :param now_s: the wall clock
    """

    def __init__(self, end_s: float, speed: float, now_s: float) -> None:
        self._end_s, self._speed = end_s, speed
        self._anchor_s, self._at_s = now_s, 0.0
        self.paused = False
        self.loop: Stretch | None = None
        self.jumps = 0
        """Goes up whenever the position has moved otherwise than by playing."""

    @property
    def speed(self) -> float:
        """Recorded seconds per second while it plays."""
        return self._speed

    def at_s(self, now_s: float) -> float:
        """The position at a moment of the wall clock."""
        if self.paused:
            return self._at_s
        if math.isinf(self._speed):
            return self._end_s
        return min(self._at_s + (now_s - self._anchor_s) * self._speed, self._end_s)

    def wall_s(self, at_s: float) -> float:
        """When a position will be reached on the wall clock; infinity while it is paused."""
        if self.paused:
            return math.inf
        return self._anchor_s + (at_s - self._at_s) / self._speed

    def pause(self, now_s: float) -> None:
        """Stand still, or go on."""
        self._settle(now_s)
        self.paused = not self.paused

    def change_speed(self, factor: float, now_s: float) -> None:
        """Go faster or slower, within what a replay can do."""
        self._settle(now_s)
        if math.isfinite(self._speed):
            self._speed = min(max(self._speed * factor, SLOWEST), FASTEST)

    def seek(self, at_s: float, now_s: float) -> None:
        """Go somewhere else; a loop that does not hold that place is left."""
        if self.loop is not None and not self.loop[0] <= at_s <= self.loop[1]:
            self.loop = None
        self._at_s, self._anchor_s = min(max(at_s, 0.0), self._end_s), now_s
        self.jumps += 1

    def hold(self, at_s: float, now_s: float) -> None:
        """Be at a position from this moment on; what went by meanwhile is not played."""
        self._at_s, self._anchor_s = at_s, now_s

    def play_again(self, stretch: Stretch | None, now_s: float) -> None:
        """Play a stretch again and again, from its start; None to go on."""
        self.loop = stretch
        if stretch is not None:
            self.seek(stretch[0], now_s)

    def turn(self, now_s: float) -> bool:
        """At the end of the loop go back to its start; say whether that was so."""
        if self.loop is None or self.at_s(now_s) < self.loop[1]:
            return False
        self.seek(self.loop[0], now_s)
        return True

    def _settle(self, now_s: float) -> None:
        self._at_s, self._anchor_s = self.at_s(now_s), now_s


def around(pour: Stretch, end_s: float) -> Stretch:
    """A pour with what leads to it and what follows.

    :param pour: its start and its end
    :param end_s: of the recording
    """
    return max(pour[0] - BEFORE_POUR_S, 0.0), min(pour[1] + AFTER_POUR_S, end_s)


def neighbour(pours: Sequence[Stretch], at_s: float, step: int) -> Stretch | None:
    """The pour at hand (0), the one after (1) or before (-1); None where there is none."""
    begun = [number for number, pour in enumerate(pours) if pour[0] - BEFORE_POUR_S <= at_s + 0.05]
    number = (begun[-1] if begun else -1) + step
    if step == 0:
        number = max(number, 0)
    return pours[number] if 0 <= number < len(pours) else None

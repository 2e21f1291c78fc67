"""What follows a brew while it is recorded or replayed: live analysis, screen, and the brew's end."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from drivers.reading import GRAM, Reading
from logger.curve import LiveAnalysis, is_over
from logger.show.guide import guide

if TYPE_CHECKING:
    from logger.show.live_screen import LiveScreen
    from logger.target import Target


class Follower:
    """Feeds the scale's readings to the live analysis and the moment to the screen.

    :param target: what the brew should be, or None
    :param screen: where to show it
    :param scale: the channel to follow; None for the first that weighs
    :param ends: whether it may say that the brew is over
    """

    def __init__(
        self, target: Target | None, screen: LiveScreen, *, scale: str | None = None, ends: bool = True
    ) -> None:
        self.live = LiveAnalysis(target=target)
        self._target, self._screen, self._scale, self._ends = target, screen, scale, ends
        self._over = False

    @property
    def finished(self) -> bool:
        """Whether the brew is over."""
        return self._over

    def push(self, reading: Reading) -> None:
        """Take one reading of any channel."""
        if reading.unit != GRAM or not reading.status.has_value:
            return
        self._scale = self._scale or reading.channel
        if reading.channel != self._scale:
            return
        for change in self.live.push(reading.time_s, reading.value):
            self._screen.say(change, self.live.start_s)
        self._screen.show(guide(self.live, self._target, reading.time_s), time.monotonic())
        self._over = self._ends and is_over(self.live, reading.time_s, self._target)


class FirstWater:
    """Waits for the next brew: finished as soon as something moves the scale for good."""

    def __init__(self) -> None:
        self._live = LiveAnalysis()
        self._scale: str | None = None
        self._moved = False

    @property
    def finished(self) -> bool:
        """Whether a brew has begun."""
        return self._moved

    def push(self, reading: Reading) -> None:
        """Take one reading of any channel."""
        if reading.unit != GRAM or not reading.status.has_value:
            return
        self._scale = self._scale or reading.channel
        if reading.channel != self._scale:
            return
        changes = self._live.push(reading.time_s, reading.value)
        put_on = any(change.event is not None and change.event.kind == "vessel-on" for change in changes)
        self._moved = self._moved or put_on or self._live.pouring

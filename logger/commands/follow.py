"""What follows a brew while it is recorded or replayed: live analysis, screen, and the brew's end."""

from __future__ import annotations

import logging
import time
from typing import TYPE_CHECKING

from drivers.reading import GRAM, Reading
from logger.commands.links import Links
from logger.curve import LiveAnalysis, is_over
from logger.show.guide import guide

if TYPE_CHECKING:
    from logger.curve import Change
    from logger.show.live_screen import LiveScreen
    from logger.target import Target

log = logging.getLogger(__name__)

BREW_SCALE = "scale"


class Pan:
    """The scale that the brew stands on, out of all readings: the one called ``scale``, else the first.

    A recording's report looks at the same one.

    :param target: what the brew should be, or None
    :param channel: the one to look at, where it is known beforehand
    """

    def __init__(self, target: Target | None = None, channel: str | None = None) -> None:
        self.live = LiveAnalysis(target=target)
        self._target, self._channel = target, channel

    def push(self, reading: Reading) -> list[Change] | None:
        """Take one reading of any channel; give what has become known, None where it is not of this scale."""
        if reading.unit != GRAM or not reading.status.has_value:
            return None
        if self._channel is None or (reading.channel == BREW_SCALE != self._channel):
            self._channel = reading.channel
            self.live = LiveAnalysis(target=self._target)
        return self.live.push(reading.time_s, reading.value) if reading.channel == self._channel else None


class Follower:
    """Feeds the scale's readings to the live analysis and the moment to the screen.

    :param target: what the brew should be, or None
    :param screen: where to show it
    :param scale: the channel to follow; None to find out
    :param ends: whether it may say that the brew is over
    """

    def __init__(
        self, target: Target | None, screen: LiveScreen, *, scale: str | None = None, ends: bool = True
    ) -> None:
        self._pan = Pan(target, scale)
        self._target, self._screen, self._ends = target, screen, ends
        self._over = self._blind = False
        self._links = Links()

    @property
    def live(self) -> LiveAnalysis:
        """What is known so far."""
        return self._pan.live

    @property
    def finished(self) -> bool:
        """Whether the brew is over."""
        return self._over

    def push(self, reading: Reading) -> None:
        """Take one reading of any channel. Never raises: what fails here must not end the recording."""
        if self._blind:
            return
        try:
            self._follow(reading)
        except Exception as error:
            self._blind = True
            log.error("the brew is recorded on, but not shown: end it with Ctrl-C", exc_info=error)

    def finish(self) -> None:
        """Say what is left to be said, now that no more readings will come."""
        if not self._blind:
            self._say(self.live.finish())

    def _follow(self, reading: Reading) -> None:
        self._say_link(reading)
        changes = self._pan.push(reading)
        if changes is None:
            return
        self._say(changes)
        self._screen.show(guide(self.live, self._target, reading.time_s), time.monotonic())
        self._over = self._ends and is_over(self.live, reading.time_s, self._target)

    def _say_link(self, reading: Reading) -> None:
        news = self._links.push(reading)
        if news is not None:
            self._screen.tell(news)

    def _say(self, changes: list[Change]) -> None:
        for change in sorted(changes, key=lambda change: change.time_s):
            self._screen.say(change, self.live.start_s)


class FirstWater:
    """Waits for the next brew: finished as soon as a vessel is put on, or water runs."""

    def __init__(self) -> None:
        self._pan = Pan()
        self._moved = False

    @property
    def finished(self) -> bool:
        """Whether a brew has begun."""
        return self._moved

    def push(self, reading: Reading) -> None:
        """Take one reading of any channel."""
        for change in self._pan.push(reading) or ():
            if change.event is not None and change.event.kind == "vessel-on":
                self._moved = True
        self._moved = self._moved or self._pan.live.pouring

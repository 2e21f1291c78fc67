"""What follows a brew while it is recorded or replayed: readings go to the guide, cues to all who listen."""

from __future__ import annotations

import asyncio
import logging
import math
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from drivers.reading import GRAM, Reading, Status
from logger.commands.links import Links
from logger.guide import Guide, Hand
from logger.show.words.change_words import change_words

if TYPE_CHECKING:
    from logger.compare import Brew
    from logger.curve import Change, LiveAnalysis
    from logger.guide import Cue, CueListener, Verdict
    from logger.target import Target

log = logging.getLogger(__name__)

BREW_SCALE = "scale"

TICK_S = 0.05
"""Between two readings the guide is asked that often: a slow scale must not make the call late."""


class Follower:
    """Feeds the readings to the guide and its cues to listeners: the screen, the page.

    The scale that the brew stands on is the one called ``scale``, else the first; a recording's report looks
    at the same one.

    :param target: what the brew should be, or None
    :param listeners: who is shown the cues and told the news
    :param scale: the channel to follow; None to find out
    :param ends: whether it may say that the brew is over
    :param hand: what is known of the brewer
    :param boils_c: at which temperature water boils here, or None
    :param warnings: more to be shown before the brew, one sentence each
    :param warned: whether they were spoken already
    :param brew: counts the brews of a session
    :param before: the verdict on the brew before
    :param clock: the wall's, seconds, monotonic: for what happens between two readings
    """

    def __init__(
        self,
        target: Target | None,
        listeners: Sequence[CueListener] = (),
        *,
        scale: str | None = None,
        ends: bool = True,
        hand: Hand | None = None,
        boils_c: float | None = None,
        warnings: Sequence[str] = (),
        warned: bool = False,
        brew: int = 1,
        before: Verdict | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._listeners, self._channel, self._ends, self._clock = list(listeners), scale, ends, clock

        def new() -> Guide:
            return Guide(
                target,
                hand=hand,
                boils_c=boils_c,
                warnings=warnings,
                warned=warned,
                brew=brew,
                before=before,
            )

        self._new, self.guide = new, new()
        self._time_s = self._at_s = 0.0
        self._over = self._blind = False
        self._links = Links()

    @property
    def live(self) -> LiveAnalysis:
        """What is known of the pours so far."""
        return self.guide.live

    @property
    def finished(self) -> bool:
        """Whether the brew is over."""
        return self._over

    def push(self, reading: Reading) -> None:
        """Take one reading of any channel. Never raises: what fails here must not end the recording."""
        self._time_s, self._at_s = max(reading.time_s, self._time_s), self._clock()
        self._safely(lambda: self._follow(reading))

    def finish(self) -> None:
        """Say what is left to be said, now that no more readings will come."""
        self._safely(lambda: self._say(self.guide.finish()))

    def conclude(self, brew: Brew | None) -> None:
        """Show how the brew went, now that it has been looked at as a whole."""
        comparison = brew.comparison if brew else None
        self._safely(lambda: self._show(self.guide.conclude(self._time_s, comparison)))

    @property
    def verdict(self) -> Verdict | None:
        """What was concluded, or None."""
        return self.guide.verdict

    async def ticking(self, speed: float = 1.0) -> None:
        """Ask the guide between readings too, until cancelled.

        :param speed: seconds on the readings' axis for each of the wall clock; infinity is not ticked
        """
        while math.isfinite(speed):
            await asyncio.sleep(TICK_S)
            since_s = self._clock() - self._at_s
            if self._at_s and since_s >= 0.9 * TICK_S:
                self._safely(lambda: self._show(self.guide.tick(self._time_s + speed * since_s)))  # noqa: B023

    def _follow(self, reading: Reading) -> None:
        news = self._links.push(reading)
        if news is not None:
            self._tell(news)
        cue = self._cue(reading)
        if cue is None:
            return
        self._say(self.guide.news if reading.channel == self._channel else [])
        self._show(cue)
        self._over = self._ends and self.guide.finished

    def _cue(self, reading: Reading) -> Cue | None:
        """Let the guide have a reading; None for one that says nothing."""
        if reading.status is Status.LOST:
            return self.guide.lost(reading.time_s, reading.channel)
        if not reading.status.has_value:
            return None
        if reading.unit != GRAM:
            return self.guide.temperature(reading.time_s, reading.channel, reading.value)
        if self._channel is None or (reading.channel == BREW_SCALE != self._channel):
            self._channel, self.guide = reading.channel, self._new()
        if reading.channel != self._channel:
            return self.guide.heard(reading.time_s, reading.channel)
        return self.guide.push(reading.time_s, reading.value, reading.channel)

    def _say(self, changes: Sequence[Change]) -> None:
        for change in sorted(changes, key=lambda change: change.time_s):
            self._tell(change_words(change, self.live.start_s))

    def _tell(self, text: str) -> None:
        if text:
            self._to_all(lambda listener: listener.tell(text))

    def _show(self, cue: Cue) -> None:
        self._to_all(lambda listener: listener.show(cue))

    def _to_all(self, give: Callable[[CueListener], None]) -> None:
        """Give something to every listener; one that fails is left out from then on."""
        for listener in tuple(self._listeners):
            try:
                give(listener)
            except Exception as error:
                self._listeners.remove(listener)
                log.error("the brew is recorded on, but not shown everywhere", exc_info=error)

    def _safely(self, do: Callable[[], None]) -> None:
        if self._blind:
            return
        try:
            do()
        except Exception as error:
            self._blind = True
            log.error("the brew is recorded on, but not guided: end it with Ctrl-C", exc_info=error)


class FirstWater(Follower):
    """Waits for the next brew: finished as soon as a vessel is put on, or water runs.

    Meanwhile it shows what there is to see: temperatures, devices, the verdict on the brew before.
    """

    @property
    def finished(self) -> bool:
        """Whether a brew has begun."""
        put_on = any(event.kind == "vessel-on" for event in self.live.events)
        return put_on or self.live.pouring

    def _say(self, changes: Sequence[Change]) -> None:
        """Say nothing: the recording will, from its pre-roll."""

"""A recording played as if it were happening: every listener is told what it would be told live.

After a jump the brew is guided anew, without a word, from its first reading to where the jump leads.
"""

from __future__ import annotations

import asyncio
import bisect
import math
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from drivers.clock import clock_text
from drivers.reading import Reading
from logger.commands.playhead import Playhead, Stretch, around, neighbour
from logger.recording.ending import cancel

if TYPE_CHECKING:
    from logger.commands.follow import Follower
    from logger.guide import Cue, CueListener

    NewFollower = Callable[[Sequence[CueListener], Callable[[], float], int], Follower]

SEEK_S = 5.0
_AT_A_TIME = 100

HINT = "space: pause   left, right: 5 s   up, down: speed   p, n: pours   l: again and again   q: end"


class Hush:
    """Passes cues and words on to listeners, but for the time in which it is told not to.

    :param past: told the cues of that time
    """

    def __init__(self, listeners: Sequence[CueListener], past: Sequence[Callable[[Cue], None]] = ()) -> None:
        self._listeners, self._past = tuple(listeners), tuple(past)
        self.quiet = False
        self._last: Cue | None = None

    def show(self, cue: Cue) -> None:
        """Take the newest cue."""
        self._last = cue
        if self.quiet:
            for tell in self._past:
                tell(cue)
            return
        for listener in self._listeners:
            listener.show(cue)

    def tell(self, text: str) -> None:
        """Take one line."""
        if not self.quiet:
            for listener in self._listeners:
                listener.tell(text)

    def speak_up(self) -> None:
        """Pass on again, the last cue first."""
        self.quiet = False
        if self._last is not None:
            self.show(self._last)


class Player:
    """Plays readings to a follower.

    :param readings: in the order of their times, which count from the first one
    :param follower: makes a new one, told to whom it is to speak, its clock, and a number of its own
    :param listeners: who is shown what happens
    :param pours: start and end of each, for jumping and looping
    :param speed: recorded seconds per second; infinite for as fast as possible
    :param past: told, after a jump, the cues that led to where it led
    :param clock: the wall clock
    """

    def __init__(
        self,
        readings: Sequence[Reading],
        follower: NewFollower,
        listeners: Sequence[CueListener],
        *,
        pours: Sequence[Stretch] = (),
        speed: float = 1.0,
        past: Sequence[Callable[[Cue], None]] = (),
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._readings, self._pours, self._clock = readings, pours, clock
        self._end_s = readings[-1].time_s if readings else 0.0
        self._hush = Hush(listeners, past)
        self.head = Playhead(self._end_s, speed, clock())
        self._new: Callable[[], Follower] = lambda: follower(
            [self._hush], lambda: self.head.at_s(clock()), self.head.jumps + 1
        )
        self.follower = self._new()
        """The one that follows now: after a jump another one."""
        self._moved, self._renewed = asyncio.Event(), asyncio.Event()
        self._ended = False

    async def play(self) -> None:
        """Play to the end, or until somebody has had enough."""
        at, jumps = 0, 0
        self.head.hold(self.head.at_s(self._clock()) if self.head.jumps else 0.0, self._clock())
        while not self._ended and (at < len(self._readings) or self.head.loop is not None):
            if self.head.jumps != jumps:
                jumps = self.head.jumps
                at = await self._jump(jumps)
            elif not self.head.turn(self._clock()):
                at = await self._play_on(at)

    @property
    def is_over(self) -> bool:
        """Whether all was played."""
        return not self._ended

    def seek(self, at_s: float) -> None:
        """Go to a place on the recording's time axis."""
        self.head.seek(at_s, self._clock())
        self._moved.set()

    async def tick(self) -> None:
        """Let the follower know between two readings that time goes on; until cancelled."""
        while True:
            ticking = asyncio.create_task(self.follower.ticking(), name="between two readings")
            try:
                await self._renewed.wait()
                self._renewed.clear()
            finally:
                await cancel(ticking)

    def press(self, key: str) -> None:
        """Do what a key is for."""
        now_s = self._clock()
        at_s = self.head.at_s(now_s)
        if key == " ":
            self.head.pause(now_s)
        elif key in ("left", "right"):
            self.head.seek(at_s + (SEEK_S if key == "right" else -SEEK_S), now_s)
        elif key in ("up", "down"):
            self.head.change_speed(2.0 if key == "up" else 0.5, now_s)
        elif key in ("n", "p"):
            pour = neighbour(self._pours, at_s, 1 if key == "n" else -1)
            if pour is not None:
                self.head.seek(around(pour, self._end_s)[0], now_s)
        elif key == "l":
            self.loop_pour_at(None if self.head.loop else at_s)
        elif key == "q":
            self._ended = True
        else:
            return
        self._hush.tell(self.words())
        self._moved.set()

    def loop_pour_at(self, at_s: float | None) -> None:
        """Play the pour at a place again and again; None to go on."""
        pour = None if at_s is None else neighbour(self._pours, at_s, 0)
        self.head.play_again(around(pour, self._end_s) if pour else None, self._clock())
        self._moved.set()

    def words(self) -> str:
        """Where the replay stands."""
        state = "paused" if self.head.paused else f"{self.head.speed:g} times"
        loop = ", again and again" if self.head.loop else ""
        return (
            f"replay: {clock_text(self.head.at_s(self._clock()))} of {clock_text(self._end_s)}, {state}{loop}"
        )

    async def _play_on(self, at: int) -> int:
        """Give the readings that are due, then wait for the next, or for a key."""
        position_s, jumps = self.head.at_s(self._clock()), self.head.jumps
        first, last = at, at + _AT_A_TIME
        while at < min(last, len(self._readings)) and self._readings[at].time_s <= position_s:
            self.follower.push(self._readings[at])
            at += 1
            if self._ended or self.head.paused or self.head.jumps != jumps:
                return at
        if at > first:
            await asyncio.sleep(0)
            return at
        due_s = [self._readings[at].time_s] if at < len(self._readings) else []
        if self.head.loop is not None:
            due_s.append(self.head.loop[1])
        await self._wait(self.head.wall_s(min(due_s, default=self._end_s)) - self._clock())
        return at

    async def _wait(self, seconds: float) -> None:
        self._moved.clear()
        try:
            async with asyncio.timeout(None if math.isinf(seconds) else max(seconds, 0.0)):
                await self._moved.wait()
        except TimeoutError:
            return

    async def _jump(self, jumps: int) -> int:
        """Guide the brew anew up to where the replay stands; give the first reading that is still to come."""
        position_s = self.head.at_s(self._clock())
        until = bisect.bisect_right(self._readings, position_s, key=lambda reading: reading.time_s)
        self.follower = self._new()
        self._renewed.set()
        self._hush.quiet = True
        for number, reading in enumerate(self._readings[:until]):
            self.follower.push(reading)
            if number % _AT_A_TIME == 0:
                await asyncio.sleep(0)
        self._hush.speak_up()
        if self.head.jumps == jumps:
            # What the jump itself took is not played.
            self.head.hold(position_s, self._clock())
        return until

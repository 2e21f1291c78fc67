"""Where readings go as they arrive: into the recording, to a listener without one, or into the pre-roll."""

from __future__ import annotations

import asyncio
import math
from collections import deque
from dataclasses import dataclass

from drivers.reading import Reading
from logger.recording.merge import Merge
from logger.recording.take import Listener, Take


class Preroll:
    """What arrives while nothing is recorded: the last seconds of it.

    :param length_s: how much is kept
    """

    def __init__(self, length_s: float) -> None:
        self.readings = deque[Reading]()
        self._length_s, self._forgotten = length_s, 0
        self._wanted_from_s = math.inf

    def keep(self, reading: Reading) -> None:
        """Take one reading, and forget those that are too old by now."""
        self.readings.append(reading)
        now_s = min(reading.time_s, self._wanted_from_s)
        while now_s - self.readings[0].time_s > self._length_s:
            self.readings.popleft()
            self._forgotten += 1

    def hold(self, from_s: float = math.inf) -> None:
        """Forget nothing more of what led to this moment; without one, go on forgetting.

        A recording begins a moment after it was found that it should. On a busy computer that is a long one.
        """
        self._wanted_from_s = from_s

    def forget_count(self) -> int:
        """How many were forgotten since this was asked last."""
        count, self._forgotten = self._forgotten, 0
        return count


@dataclass(eq=False)
class Watch:
    """A listener that follows without a recording."""

    listener: Listener
    ended: asyncio.Future[bool]

    def push(self, reading: Reading) -> bool:
        """Pass a reading on; say whether the listener is finished."""
        try:
            self.listener.push(reading)
            if self.listener.finished:
                self.end(True)
        except Exception as error:
            if not self.ended.done():
                self.ended.set_exception(error)
        return self.ended.done()

    def end(self, finished: bool) -> None:
        """Stop following; the first call counts."""
        if not self.ended.done():
            self.ended.set_result(finished)


class Intake:
    """What takes the readings of all devices.

    :param preroll_s: how much is kept between recordings
    """

    def __init__(self, preroll_s: float) -> None:
        self.take: Take | None = None
        """The recording that is being written."""
        self.merge = Merge()
        """In which order devices that run as fast as they can are read."""
        # Until somebody listens, readings wait in the drivers, where nothing falls out of a pre-roll.
        self.wanted = asyncio.Event()
        """Set from the first recording, or the first listener, on."""
        self._watch: Watch | None = None
        self._preroll = Preroll(preroll_s)

    def arrive(self, reading: Reading) -> None:
        """Take one reading."""
        if self.take is not None:
            if self.take.push(reading):
                if self.take.is_over:
                    self.merge.hold()
                return
            self.merge.hold()
        self._preroll.keep(reading)
        if self._watch is not None and not self._watch.ended.done() and self._watch.push(reading):
            self._preroll.hold(reading.time_s)
            self.merge.hold()

    def begin_take(self, take: Take, start_s: float) -> int:
        """Let a recording have what arrives, the pre-roll first.

        :param start_s: now, on the devices' time axis
        :returns: how many readings had fallen out of the pre-roll
        """
        forgotten = self._preroll.forget_count()
        while self._preroll.readings and not take.is_over:
            reading = self._preroll.readings.popleft()
            take.push(reading, age_s=max(0.0, start_s - reading.time_s))
        self._preroll.hold()
        self.take = take
        self.wanted.set()
        return forgotten

    def end_take(self) -> None:
        """Let the recording have no more."""
        self.take = None
        self.merge.hold()

    def begin_watch(self, listener: Listener) -> Watch:
        """Let a listener follow, from what came since the last recording ended on.

        What it sees stands in the pre-roll too.
        """
        self._preroll.hold()
        watch = self._watch = Watch(listener, asyncio.get_running_loop().create_future())
        self.wanted.set()
        for reading in tuple(self._preroll.readings):
            if watch.push(reading):
                self._preroll.hold(reading.time_s)
                return watch
        self.merge.resume()
        return watch

    def end_watch(self) -> None:
        """Let the listener follow no more."""
        self._watch = None
        self.merge.hold()

    def no_device_left(self, everyone_lost: bool) -> None:
        """End what waits for more readings."""
        if self.take is not None:
            self.take.end("devices lost" if everyone_lost else "devices ended")
        if self._watch is not None:
            self._watch.end(False)

"""One recording while it is being written: its folder, its journal, its listeners, and when it ends."""

from __future__ import annotations

import asyncio
import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Literal, Protocol

from drivers.reading import Reading, Status
from logger.errors import FailureError
from logger.recording.descriptor import Descriptor, Meta, digest, write_descriptor
from logger.recording.disk import unreadable
from logger.recording.journal import READINGS, Journal
from logger.recording.sampling_file import Arrivals, SamplingTimes, write_sampling
from logger.recording.store import new_folder, slug

Reason = Literal["ended by itself", "time is up", "stopped", "devices ended", "devices lost"]

SYNC_EVERY_S = 0.4


class Listener(Protocol):
    """Something that follows a brew while it is recorded: the screen, the live analysis."""

    def push(self, reading: Reading) -> None:
        """Take one reading, after it was written down; times count from the recording's first reading."""

    @property
    def finished(self) -> bool:
        """Whether the brew is over, so far as this listener can tell."""


@dataclass(frozen=True, slots=True)
class LostDevice:
    """A device that was lost while it was in use.

    :param address: as the user wrote it
    :param message: what happened and what to do next
    :param is_bad_input: whether it never could have worked as it was asked for (a wrong baud rate, say)
    """

    address: str
    message: str
    is_bad_input: bool = False


@dataclass(frozen=True, slots=True)
class Finished:
    """A recording that was closed.

    :param path: its folder
    :param reason: why it ended
    :param counts: readings that a device sent, by channel; lines of a lost link are not among them
    :param lost: the devices that were lost on the way
    """

    path: Path
    reason: Reason
    counts: Mapping[str, int]
    lost: tuple[LostDevice, ...] = ()


class Take:
    """A recording that is being written.

    Its time axis begins with its first reading. All methods but :meth:`keep_synced` are plain calls: what
    was pushed is written down when the call returns.

    :param into: where recordings live
    :param meta: what is known of the brew so far
    :param for_s: when to end at the latest, from the first reading that came after the start
    :param now: the wall clock, in the time zone that the folder's name is to show
    :param sampling_times: works out when readings were taken; None to leave that out
    :raises FailureError: when the disk refuses; no folder is then left behind
    """

    def __init__(
        self,
        into: Path,
        meta: Meta,
        *,
        listeners: Sequence[Listener],
        for_s: float | None,
        now: Callable[[], datetime],
        sampling_times: SamplingTimes | None = None,
    ) -> None:
        started = now()
        self.ended: asyncio.Future[Reason] = asyncio.get_running_loop().create_future()
        self.error: Exception | None = None
        self.counts: Counter[str] = Counter()
        self._lost_counts: Counter[str] = Counter()
        self.marks: dict[str, float] = dict(meta.marks)
        self.path = new_folder(into, started, meta.title)
        self._meta = replace(meta, started=started, complete=False)
        self._listeners, self._for_s, self._now = tuple(listeners), for_s, now
        self._sampling_times, self._arrivals = sampling_times, Arrivals()
        self._origin_s: float | None = None
        self._limit_s: float | None = None
        self._last_s = 0.0
        self._unwritten_marks = False
        self._closing = threading.Lock()
        try:
            write_descriptor(self.path, slug(self.path.name), Descriptor(self._meta))
            self._journal = Journal(self.path / READINGS)
        except FailureError:
            self._remove()
            raise

    @property
    def is_over(self) -> bool:
        """Whether it takes no more readings."""
        return self.ended.done()

    def push(self, reading: Reading, *, age_s: float | None = None) -> bool:
        """Write a reading down, then show it to the listeners.

        Never raises: what goes wrong ends the recording and stands in ``error``.

        :param age_s: how long before the recording was asked for it came; None for one that comes now
        :returns: whether the reading belongs to this recording; False from the end on
        """
        if self.is_over or (age_s is None and self._is_time_up(reading)):
            return False
        try:
            self._take(reading, age_s or 0.0)
        except Exception as error:
            self.fail(error)
        return True

    def mark(self, name: str, time_s: float | None = None) -> float:
        """Name a moment.

        :param time_s: on the devices' time axis; None for the latest reading
        :returns: the moment on the recording's time axis
        """
        origin_s = self._origin_s
        moment = self._last_s if time_s is None or origin_s is None else round(time_s - origin_s, 6)
        self.marks[name] = moment
        self._unwritten_marks = True
        return moment

    def end(self, reason: Reason) -> None:
        """Take no more readings; the first reason given counts."""
        if not self.ended.done():
            self.ended.set_result(reason)

    def fail(self, error: Exception) -> None:
        """Take no more readings, because something went wrong."""
        if self.error is None:
            self.error = error
        self.end("stopped")

    async def keep_synced(self) -> None:
        """Bring to the disk what was written, at most half a second behind; until cancelled."""
        while True:
            await asyncio.sleep(SYNC_EVERY_S)
            try:
                await asyncio.to_thread(self._sync)
            except FailureError as error:
                self.fail(error)
                return

    def close(self, reason: Reason, devices: Sequence[dict[str, Any]], counters: Mapping[str, int]) -> None:
        """Close the journal and write the closing descriptor.

        :raises FailureError: when the disk refuses; the recording then opens as one that was cut off
        """
        self.end(reason)
        with self._closing:
            self._journal.close()
            data = self._written()
            counted = {f"readings.{channel}": n for channel, n in self.counts.items()}
            counted |= {f"lost.{channel}": n for channel, n in self._lost_counts.items()}
            meta = replace(
                self._meta,
                complete=True,
                ended=reason,
                marks=self.marks,
                devices=tuple(devices),
                counters={**self._meta.counters, **counted, **counters},
            )
            descriptor = Descriptor(meta, len(data), digest(data), self._sampling())
            write_descriptor(self.path, slug(self.path.name), descriptor)

    def _take(self, reading: Reading, age_s: float) -> None:
        if self._origin_s is None:
            self._origin_s = reading.time_s
            self._meta = replace(self._meta, started=self._now() - timedelta(seconds=age_s))
        # Rounded as the journal rounds: live and replayed readings are the same to a listener.
        own = replace(reading, time_s=round(reading.time_s - self._origin_s, 6))
        self._journal.append(own)
        self._arrivals.note(own)
        counts = self._lost_counts if own.status is Status.LOST else self.counts
        counts[own.channel] += 1
        self._last_s = own.time_s
        for listener in self._listeners:
            listener.push(own)
        if any(listener.finished for listener in self._listeners):
            self.end("ended by itself")

    def _is_time_up(self, reading: Reading) -> bool:
        if self._for_s is None:
            return False
        if self._limit_s is None:
            self._limit_s = reading.time_s + self._for_s
        if reading.time_s > self._limit_s:
            self.end("time is up")
        return self.is_over

    def _sync(self) -> None:
        with self._closing:
            self._journal.sync()
            if self._unwritten_marks and not self.is_over:
                self._unwritten_marks = False
                meta = replace(self._meta, marks=dict(self.marks))
                write_descriptor(self.path, slug(self.path.name), Descriptor(meta))

    def _sampling(self) -> tuple[int, str] | None:
        if self._sampling_times is None or not self.counts:
            return None
        data = write_sampling(self.path, self._arrivals, self._sampling_times)
        return None if data is None else (len(data), digest(data))

    def _written(self) -> bytes:
        try:
            return (self.path / READINGS).read_bytes()
        except OSError as error:
            raise unreadable(self.path / READINGS, error) from error

    def _remove(self) -> None:
        for file in self.path.iterdir():
            file.unlink(missing_ok=True)
        self.path.rmdir()

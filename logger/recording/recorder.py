"""The recorder: any number of devices into one recording, or into one recording after the other.

Each device is opened, read and closed by one task of its own, all in one task group. A reading is written
down by the task that received it, in the same step of the event loop, so the order in the journal is the
order of arrival and nothing waits in a queue that a crash could empty.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from drivers.device import Device
from drivers.errors import DeviceError
from drivers.reading import Reading, Status
from logger.errors import BadInputError, EvencupError
from logger.recording.descriptor import Meta
from logger.recording.ending import cancel, ending_on
from logger.recording.intake import Intake
from logger.recording.port import DevicesError, Port, line_counters
from logger.recording.sampling_file import SamplingTimes
from logger.recording.take import Finished, Listener, LostDevice, Reason, Take

__all__ = ["DevicesError", "Finished", "Listener", "LostDevice", "Reason", "Recorder", "record"]

PREROLL_S = 10.0
_BREATHE_EVERY = 50


class Recorder:
    """Devices, held open for one recording or for many.

    Use it as ``async with Recorder(devices) as recorder: await recorder.record_one(...)``. What arrives
    between recordings stands in a pre-roll of a few seconds, which becomes the head of the next recording.

    :param devices: not opened yet
    :param clock: the devices' time axis: the host's monotonic clock, seconds
    :param now: the wall clock, in the time zone that folders' names are to show
    :param preroll_s: how much is kept between recordings
    :param sampling_times: works out when readings were taken, for a file beside the readings
    """

    def __init__(
        self,
        devices: Sequence[Device],
        *,
        clock: Callable[[], float] = time.monotonic,
        now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
        preroll_s: float = PREROLL_S,
        sampling_times: SamplingTimes | None = None,
    ) -> None:
        self._sampling_times = sampling_times
        self._devices, self._clock, self._now = tuple(devices), clock, now
        self._intake = Intake(preroll_s)
        self._not_kept_before_start = 0
        self._ports: list[Port] = []
        self._group = asyncio.TaskGroup()
        self._tasks: list[asyncio.Task[None]] = []
        self._error: Exception | None = None

    async def __aenter__(self) -> Self:
        """Open all devices together.

        :raises DevicesError: with every device that could not be opened
        """
        loop = asyncio.get_running_loop()
        self._ports = [Port(device, loop.create_future()) for device in self._devices]
        await self._group.__aenter__()
        try:
            for number, port in enumerate(self._ports):
                name = f"device {port.device.address}"
                self._tasks.append(self._group.create_task(self._serve(number, port), name=name))
            results = await asyncio.gather(*(port.opened for port in self._ports), return_exceptions=True)
            self._raise_unopened(results)
        except BaseException:
            await self._close()
            raise
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close all devices."""
        await self._close()

    @property
    def lost(self) -> tuple[LostDevice, ...]:
        """The devices that were lost since the recorder was opened."""
        return tuple(port.lost for port in self._ports if port.lost)

    async def record_one(
        self,
        into: Path,
        meta: Meta,
        *,
        listeners: Sequence[Listener] = (),
        for_s: float | None = None,
        stop: asyncio.Event | None = None,
    ) -> Finished:
        """Record one brew: until a listener finds it finished, the time is up, or no device is left.

        On cancellation the recording is closed, complete, before the cancellation goes on.

        :param into: where recordings live
        :param meta: what is known of the brew: title, coffee, target ...
        :param for_s: seconds, from the first reading, after which to end at the latest
        :param stop: set it to end well, from a signal handler for instance
        :raises FailureError: when the disk refuses; what was written before is kept
        """
        if self._error is not None:
            raise self._error
        take = Take(
            into,
            meta,
            listeners=listeners,
            for_s=for_s,
            now=self._now,
            sampling_times=self._sampling_times,
        )
        reason: Reason = "stopped"
        try:
            self._begin(take)
            reason = await self._until_over(take, for_s, stop)
        finally:
            self._intake.end_take()
            self._close_take(take, reason)
        if take.error is not None:
            raise take.error
        return Finished(take.path, reason, dict(take.counts), self.lost)

    async def watch(self, listener: Listener, *, stop: asyncio.Event | None = None) -> bool:
        """Let a listener follow the devices without recording, until it is finished.

        What it sees stands in the pre-roll too. Times are the devices' own.

        :returns: False when it was stopped instead, or no device is left
        """
        watch = self._intake.begin_watch(listener)
        try:
            if self._is_deserted:
                return False
            async with ending_on(stop, lambda: watch.end(False)):
                return await watch.ended
        finally:
            self._intake.end_watch()

    def mark(self, name: str) -> float | None:
        """Name this moment of the brew that is being recorded.

        :returns: its time on the recording's axis; None where nothing is being recorded
        """
        if self._intake.take is None:
            return None
        live = all(port.is_live for port in self._ports)
        return self._intake.take.mark(name, self._clock() if live else None)

    async def _serve(self, number: int, port: Port) -> None:
        """Open, read and close one device."""
        try:
            async with port.device:
                if port.opened.cancelled():
                    return
                port.opened.set_result(None)
                with self._intake.merge.member(number) if port.is_unpaced else contextlib.nullcontext():
                    await self._intake.wanted.wait()
                    await self._read(number, port)
        except Exception as error:
            if not port.opened.done():
                port.opened.set_exception(error)
            if port.opened.cancelled() or port.opened.exception():
                return
            self._lose(port, error)
        port.ended = True
        self._end_when_deserted()

    async def _read(self, number: int, port: Port) -> None:
        count = 0
        async for reading in port.device:
            if port.is_unpaced:
                # It would run away from all others, and past the end of the recording.
                await self._intake.merge.turn(number, reading.time_s)
            self._arrive(port, reading)
            count += 1
            if count % _BREATHE_EVERY == 0:
                # A device that never waits would keep the timers and the signals from running.
                await asyncio.sleep(0)

    def _arrive(self, port: Port, reading: Reading) -> None:
        if reading.channel not in port.channels:
            self._refuse_second_owner(port, reading.channel)
            port.channels[reading.channel] = reading.unit
        port.last_s = max(port.last_s, reading.time_s)
        self._intake.arrive(reading)

    def _refuse_second_owner(self, port: Port, channel: str) -> None:
        for other in self._ports:
            if other is not port and channel in other.channels:
                self._fail(
                    BadInputError(
                        port.device.address,
                        f"its channel {channel!r} is called like one of {other.device.address}",
                        "Give one of them another name, as in --scale server=ADDRESS.",
                    )
                )

    def _fail(self, error: Exception) -> None:
        self._error = error
        if self._intake.take is not None:
            self._intake.take.fail(error)

    def _lose(self, port: Port, error: Exception) -> None:
        port.lose(error)
        at_s = max(port.last_s, self._clock()) if port.is_live else port.last_s
        for channel, unit in port.channels.items():
            self._arrive(port, Reading(channel, at_s, math.nan, unit, Status.LOST))

    def _begin(self, take: Take) -> None:
        self._not_kept_before_start = self._intake.begin_take(take, self._clock())
        if self._is_deserted:
            self._end_when_deserted()
        elif not take.is_over:
            self._intake.merge.resume()

    async def _until_over(self, take: Take, for_s: float | None, stop: asyncio.Event | None) -> Reason:
        live = any(port.is_live for port in self._ports)
        timer = None
        if for_s is not None and live:
            timer = asyncio.get_running_loop().call_later(for_s, take.end, "time is up")
        syncing = asyncio.create_task(take.keep_synced(), name=f"sync {take.path.name}")
        try:
            async with ending_on(stop, lambda: take.end("stopped")):
                return await asyncio.shield(take.ended)
        finally:
            if timer is not None:
                timer.cancel()
            await cancel(syncing)

    def _close_take(self, take: Take, reason: Reason) -> None:
        facts = [port.facts() for port in self._ports]
        counters = line_counters(facts)
        if self._not_kept_before_start:
            counters["readings.not_kept_before_start"] = self._not_kept_before_start
        try:
            take.close(reason, facts, counters)
        except EvencupError as error:
            # The first failure is the one to tell: a full disk refuses the descriptor as well.
            if take.error is None:
                take.error = error

    @property
    def _is_deserted(self) -> bool:
        return all(port.ended for port in self._ports)

    def _end_when_deserted(self) -> None:
        if self._is_deserted:
            self._intake.no_device_left(everyone_lost=all(port.lost for port in self._ports))

    def _raise_unopened(self, results: Sequence[BaseException | None]) -> None:
        failures = [result for result in results if isinstance(result, BaseException)]
        for failure in failures:
            if not isinstance(failure, DeviceError):
                raise failure
        errors = [failure for failure in failures if isinstance(failure, DeviceError)]
        if errors:
            raise DevicesError(errors, of=len(self._devices))

    async def _close(self) -> None:
        for task in self._tasks:
            task.cancel()
        await self._group.__aexit__(None, None, None)


async def record(
    devices: Sequence[Device],
    into: Path,
    meta: Meta,
    *,
    listeners: Sequence[Listener] = (),
    for_s: float | None = None,
    stop: asyncio.Event | None = None,
    clock: Callable[[], float] = time.monotonic,
    now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
) -> Finished:
    """Open devices, record one brew, close them: see :class:`Recorder`.

    :raises DevicesError: when any device cannot be opened; no folder is then made
    :raises FailureError: when the disk refuses; what was written before is kept
    """
    async with Recorder(devices, clock=clock, now=now) as recorder:
        return await recorder.record_one(into, meta, listeners=listeners, for_s=for_s, stop=stop)

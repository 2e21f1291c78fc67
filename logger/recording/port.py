"""A device, and a listener without a recording, while the recorder has them."""

from __future__ import annotations

import asyncio
import logging
import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from drivers.device import Device
from drivers.errors import DeviceError
from drivers.reading import Reading, Unit
from logger.errors import EvencupError
from logger.recording.take import Listener, LostDevice

log = logging.getLogger(__name__)


class DevicesError(EvencupError):
    """One or more devices could not be opened; all of them are closed again.

    :param errors: one for each device that could not be opened
    """

    def __init__(self, errors: Sequence[DeviceError], of: int) -> None:
        self.errors = tuple(errors)
        self.is_bad_input = all(error.is_bad_input for error in errors)
        lines = "".join(f"\n  {error}" for error in errors)
        number = "the device" if of == 1 else f"{len(errors)} of {of} devices"
        super().__init__(number, f"could not be opened:{lines}", "")
        self.args = (f"{number} could not be opened:{lines}",)


@dataclass(eq=False)
class Port:
    """A device while the recorder has it.

    :param opened: done as soon as the device is open, or with the error that it is not
    :param channels: those seen so far, with their units
    :param last_s: time of its latest reading
    :param ended: it has no more to give
    """

    device: Device
    opened: asyncio.Future[None]
    channels: dict[str, Unit] = field(default_factory=dict)
    last_s: float = -math.inf
    ended: bool = False
    lost: LostDevice | None = None

    @property
    def is_unpaced(self) -> bool:
        """Whether it runs as fast as it can."""
        return math.isinf(self.device.paced)

    def facts(self) -> dict[str, Any]:
        """What the recording keeps about it."""
        facts = {"address": self.device.address, "channels": list(self.channels), **self._own_facts()}
        return facts | ({"lost": self.lost.message} if self.lost else {})

    def _own_facts(self) -> dict[str, object]:
        try:
            return self.device.facts()
        except Exception as error:
            # The recording must be closed, whatever a driver does.
            log.error("%s: the driver has no facts", self.device.address, exc_info=error)
            return {}


class Preroll:
    """What arrives while nothing is recorded: the last seconds of it.

    :param length_s: how much is kept
    """

    def __init__(self, length_s: float) -> None:
        self.readings = deque[Reading]()
        self._length_s, self._forgotten = length_s, 0

    def keep(self, reading: Reading) -> None:
        """Take one reading, and forget those that are too old by now."""
        self.readings.append(reading)
        while reading.time_s - self.readings[0].time_s > self._length_s:
            self.readings.popleft()
            self._forgotten += 1

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


def line_counters(devices: Sequence[dict[str, Any]]) -> dict[str, int]:
    """Pick out of the devices' facts what became of the lines (or frames) that they sent."""
    return {
        f"{name}.{facts['address']}": value
        for facts in devices
        for name, value in facts.items()
        if name.startswith("lines") and isinstance(value, int)
    }

"""A recording as a device: ``playback:FOLDER?speed=8``.

Readings come at their recorded times, counted from the first moment of the iteration and never from the
reading before, so that no delay adds up. The time axis of the readings is the recorded one at every speed.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from drivers.address import Address
from drivers.device import ChannelNames
from drivers.errors import DeviceDeniedError, DeviceError, DeviceNotFoundError, DeviceUnreadableError
from drivers.reading import JOURNAL_HEADER, Reading, parse_journal_line

JOURNAL_NAME = "readings.csv"

_READINGS_PER_TURN = 100
_REMEDY = f"Give the folder of a recording, the one that holds {JOURNAL_NAME}."


def open_playback(address: Address, names: ChannelNames) -> Playback:
    """Make the device of a ``playback:`` address; channels keep the names they were recorded with.

    :raises AddressError: when an option is unknown or makes no sense
    """
    address.only(("speed",))
    if address.options.get("speed") == "max":
        return Playback(address, math.inf)
    return Playback(address, address.number("speed", 1.0, at_least=0.01, at_most=1000.0))


class Playback:
    """A recording that is played back.

    :param speed: recorded seconds per second; infinite for as fast as possible
    :param clock: seconds, monotonic
    :param sleep: waits that many seconds
    """

    can_tare = False

    def __init__(
        self,
        address: Address,
        speed: float,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
    ) -> None:
        self._address, self._speed, self._clock, self._sleep = address, speed, clock, sleep
        self._path = Path(address.target).expanduser() / JOURNAL_NAME
        self._file: BinaryIO | None = None
        self._lines = 0
        self._torn_last_line = False

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def paced(self) -> float:
        """Recorded seconds per second of the wall clock."""
        return self._speed

    async def __aenter__(self) -> Self:
        """Open the recording."""
        try:
            self._file = self._path.open("rb")
        except PermissionError:
            raise DeviceDeniedError(
                self.address, f"this user may not read {self._path}", "Change the rights of the file."
            ) from None
        except OSError:
            raise DeviceNotFoundError(
                self.address, f"there is no recording: {self._path} cannot be opened", _REMEDY
            ) from None
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file."""
        if self._file is not None:
            self._file.close()

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings at their recorded times.

        :raises DeviceUnreadableError: naming the file and the line
        """
        start_s = self._clock()
        since_turn = 0
        for reading in self._readings():
            wait_s = start_s + reading.time_s / self._speed - self._clock()
            since_turn += 1
            if wait_s > 0 or since_turn >= _READINGS_PER_TURN:
                since_turn = 0
                await self._sleep(max(wait_s, 0.0))
            yield Reading(
                reading.channel,
                start_s + reading.time_s,
                reading.value,
                reading.unit,
                reading.status,
                reading.device_time_s,
            )

    async def tare(self) -> None:
        """Refuse: what is recorded is recorded."""
        raise DeviceError(self.address, "a recording cannot be tared", "Press the tare key while recording.")

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        return {
            "driver": "playback",
            "played": self._path.parent.name,
            "speed": "max" if math.isinf(self._speed) else self._speed,
            "lines_read": self._lines,
            "torn_last_line": self._torn_last_line,
        }

    def _readings(self) -> Iterator[Reading]:
        if self._file is None:
            raise DeviceError(self.address, "it is not open", "Use it inside 'async with'.")
        for number, line in enumerate(self._file, start=1):
            if not line.endswith(b"\n"):
                self._torn_last_line = True  # the power went while it was written; all before it is whole
                return
            try:
                text = line.decode("utf-8").rstrip("\r\n")
                if number > 1:
                    yield parse_journal_line(text)
                    self._lines += 1
                elif text != JOURNAL_HEADER:
                    raise ValueError(f"it begins with {text[:40]!r} where {JOURNAL_HEADER!r} is expected")
            except ValueError as error:
                raise DeviceUnreadableError(
                    self.address, f"{self._path}:{number}: {error}", "Restore the file from a copy."
                ) from error

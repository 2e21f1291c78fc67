"""The driver for scales and thermometers on a serial port.

``serial:/dev/ttyUSB0?baud=9600&lines=balance`` or ``serial:COM3?pattern=weight,temperature``. Shapes of lines
and frames are in ``decoders``, the address is read in ``serial_options``; this module keeps the deadlines,
asks devices that answer only when asked, and owns the port's lifetime.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator, Mapping
from types import TracebackType
from typing import Self

from drivers.address import Address
from drivers.decoders.line_reader import GARBAGE_S, LineReader
from drivers.device import ChannelNames
from drivers.errors import DeviceError, DeviceLostError, DeviceSilentError, DeviceUnreadableError
from drivers.polling import Polling
from drivers.reading import Reading
from drivers.serial_options import SerialOptions, serial_options
from drivers.transports.serial_port import SerialPort
from drivers.transports.threaded_port import Arrival


def open_serial(address: Address, names: ChannelNames) -> SerialLines:
    """Make the device of a ``serial:`` address, not opened yet.

    :raises AddressError: when an option is unknown or makes no sense
    """
    return SerialLines(address, names, serial_options(address, names))


class SerialLines:
    """A device that sends lines or frames, by itself or when asked."""

    def __init__(self, address: Address, names: ChannelNames, options: SerialOptions) -> None:
        self._address, self._options = address, options
        self._port = self._new_port()
        self._stalls_before = 0
        self._is_used = False
        self._reader = LineReader(
            options.decoder,
            names.weight,
            names.temperature,
            may_begin_cut=options.poll is None and options.shape != "frames",
        )
        self._polling = Polling(options.poll, options.keep_alive)

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def can_tare(self) -> bool:
        """Whether it is known what to send for a tare."""
        return bool(self._options.tare)

    @property
    def paced(self) -> float:
        """Hardware keeps the time of the wall clock."""
        return 1.0

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel's display, g or °C, where it is known."""
        return self._options.steps

    @property
    def battery_percent(self) -> int | None:
        """The charge of the device's battery, where it has said so."""
        return self._reader.battery_percent

    async def __aenter__(self) -> Self:
        """Open the port, and write what the description says to begin with."""
        if self._is_used:
            self._stalls_before += self._port.stalls
            self._port = self._new_port()
            self._reader.begin()
        self._is_used = True
        await self._port.open()
        try:
            for command in self._options.start:
                await self._write("start command", command)
        except BaseException:
            await self._port.close()
            raise
        self._polling.begin(time.monotonic())
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the port."""
        await self._port.close()

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, each with the arrival time of its line.

        :raises DeviceLostError: when the link broke
        :raises DeviceSilentError: when nothing arrives
        :raises DeviceUnreadableError: when only garbage arrives after opening
        """
        heard_s = time.monotonic()
        while True:
            try:
                await self._write_what_is_due()
                chunk = await self._chunk(heard_s)
            except DeviceError:
                for reading in self._reader.release():
                    yield reading
                raise
            if chunk is None:
                readings = self._reader.release_due(time.monotonic())
            else:
                heard_s = chunk.time_s
                readings = self._taken(chunk)
            for reading in readings:
                yield reading

    async def tare(self) -> None:
        """Send what sets the scale to zero."""
        if not self._options.tare:
            raise DeviceError(
                self.address,
                "this device has no tare command",
                "Press the tare key, or add what the device expects to the address: &tare=T\\r\\n",
            )
        await self._write("tare command", self._options.tare)

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        facts: dict[str, object] = {
            "driver": "serial",
            "lines": self._options.shape,
            "baud": self._options.port.baud,
            "stalls": self._stalls_before + self._port.stalls,
            **self._reader.facts(),
        }
        if self._options.described:
            facts["described"] = self._options.described
        if self._options.poll is not None:
            facts["requests"] = self._polling.requests
            facts["unanswered"] = self._polling.unanswered
        return facts

    def _new_port(self) -> SerialPort:
        return SerialPort(self._address.text, self._address.target, self._options.port)

    def _taken(self, chunk: Arrival) -> list[Reading]:
        """Take bytes; raise where they have been nothing but garbage for too long."""
        reader = self._reader
        before = reader.lines + reader.rejected
        readings = reader.push(chunk.time_s, chunk.data)
        if reader.lines + reader.rejected > before:
            self._polling.answered()
        if reader.garbage_only(chunk.time_s):
            raise self._unreadable()
        return readings

    async def _write_what_is_due(self) -> None:
        for what, data in self._polling.due(time.monotonic()):
            await self._write(what, data)

    async def _write(self, what: str, data: bytes) -> None:
        try:
            await self._port.write(data)
        except DeviceLostError as error:
            said = f"{error.what}, at the {what} {_shown(data)}"
            raise DeviceLostError(self.address, said, error.remedy) from error

    async def _chunk(self, heard_s: float) -> Arrival | None:
        """Wait for bytes; None when something else is due first: a held line, a request."""
        silent_at_s = heard_s + self._options.silent_s
        others = (self._reader.release_at_s, self._polling.next_s)
        deadline_s = min((silent_at_s, *(time_s for time_s in others if time_s is not None)))
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(deadline_s - time.monotonic()):
                return await self._port.read()
        if deadline_s == silent_at_s:
            raise self._silent()
        return None

    def _silent(self) -> DeviceSilentError:
        reader, poll = self._reader, self._options.poll
        if poll is not None:
            return DeviceSilentError(
                self.address,
                f"no answer to {_shown(poll.data)} for {self._options.silent_s:g} s",
                "Check that the device is on and knows this request and its line end, and the baud rate.",
            )
        what = f"nothing has arrived for {self._options.silent_s:g} s"
        if reader.bytes and not reader.lines:
            what += f" (before that {reader.bytes} bytes, none of them readable)"
        return DeviceSilentError(
            self.address,
            what,
            "Switch the device on, set it to send continuously, and check cable and baud rate; "
            "if it sends seldom, add a longer silent_s= to the address.",
        )

    def _unreadable(self) -> DeviceUnreadableError:
        last, poll = self._reader.last_rejected, self._options.poll
        if last is not None and last.unknown_unit is not None:
            return DeviceUnreadableError(
                self.address, f"{last.why}, in the line {last.text!r}", "Switch the device to grams."
            )
        if last is not None and poll is not None:
            return DeviceUnreadableError(
                self.address,
                f"it answers {last.text!r} to {_shown(poll.data)}: {last.why}",
                "Correct the request, or describe what the device answers.",
            )
        thing = "frame" if self._options.shape == "frames" else "line"
        seen = f"; the last {thing} was {last.text!r}: {last.why}" if last else ""
        otherwise = "if the text looks right, describe the line with pattern=."
        if self._options.described:
            otherwise = "if they are right, correct the description."
        return DeviceUnreadableError(
            self.address,
            f"{self._reader.bytes} bytes arrived in {GARBAGE_S:g} s at {self._options.port.baud} baud "
            f"and no {thing} could be read{seen}",
            f"Set baud= (and parity=, bytesize=) to what the device's manual says; {otherwise}",
        )


def _shown(command: bytes) -> str:
    """Write a command as one would write it in an address."""
    return f"'{repr(command)[2:-1]}'"

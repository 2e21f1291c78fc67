"""Listening to a device that nobody has described: all that it sends; writing only what is asked.

Nothing is written to a device unless the brewer has said what: an unknown command can change its settings.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from types import TracebackType
from typing import Protocol, Self
from urllib.parse import unquote

from drivers.address import Address, parse_address
from drivers.errors import AddressError, DeviceError, DeviceUnreadableError
from drivers.learn.captures.capture import Arrival, Link, Stream, Written
from drivers.learn.listening.line_settings import LineSettings, find_settings
from drivers.serial_options import PARITIES, PORT_OPTIONS, port_settings
from drivers.transports.bluetooth import BluetoothLink, Offered
from drivers.transports.serial_port import PortSettings, SerialPort

TIMEOUT_S = 20.0
_TRY_S = 1.5


class Ear(Protocol):
    """An open device that is listened to."""

    link: Link
    streams: tuple[Stream, ...]
    written: tuple[Written, ...]
    settings: LineSettings

    async def __aenter__(self) -> Self:
        """Open the device.

        :raises DeviceError: with what is wrong and what to do
        """

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the device."""

    async def next(self, within_s: float) -> Arrival | None:
        """Wait for bytes; None when none came in time.

        :raises DeviceError: when the link broke
        """


def ear_for(address: str, commands: Sequence[bytes], every_s: float | None, write_to: str) -> Ear:
    """Make what listens to an address, not opened yet.

    :param commands: what to write once it is open, in order; nothing else is ever written
    :param every_s: how often the last of them is written again; None for once
    :param write_to: UUID to write to, where a Bluetooth device has several
    :raises AddressError: when the address is of no device that can be learned
    """
    parsed = parse_address(address)
    if parsed.scheme == "ble":
        parsed.only(("timeout_s",))
        return BluetoothEar(parsed, commands, every_s, write_to)
    if parsed.scheme == "serial":
        parsed.only(PORT_OPTIONS)
        return SerialEar(parsed, commands, every_s)
    raise AddressError(
        address, "only ble: and serial: devices can be learned", "Use evencup devices to see them."
    )


class _Commands:
    """What is written, and when."""

    def __init__(self, commands: Sequence[bytes], every_s: float | None) -> None:
        self._commands, self._every_s = tuple(commands), every_s
        self._due_s = float("inf")

    def begin(self, now_s: float) -> tuple[bytes, ...]:
        """Give what is written at the beginning."""
        if self._every_s is not None and self._commands:
            self._due_s = now_s + self._every_s
        return self._commands

    def wait_s(self, now_s: float) -> float:
        """Give how long it is until something is due."""
        return max(0.0, self._due_s - now_s)

    def due(self, now_s: float) -> bytes | None:
        """Give what is due now, and take it for written."""
        if now_s < self._due_s or self._every_s is None:
            return None
        self._due_s = now_s + self._every_s
        return self._commands[-1]

    def written(self, uuid: str) -> tuple[Written, ...]:
        """Say what is written, for the capture and the description."""
        once = [Written(data, uuid) for data in self._commands]
        if self._every_s is None or not self._commands:
            return tuple(once)
        return (*once, Written(self._commands[-1], uuid, self._every_s))


class BluetoothEar:
    """Subscribes to everything that a Bluetooth device lets be subscribed to."""

    link: Link = "ble"

    def __init__(
        self, address: Address, commands: Sequence[bytes], every_s: float | None, write_to: str
    ) -> None:
        self._address, self._write_to = address, write_to.lower()
        timeout_s = address.number("timeout_s", TIMEOUT_S, at_least=0.5, at_most=600.0)
        self._link = BluetoothLink(address.text, unquote(address.target), timeout_s)
        self._commands, self._any = _Commands(commands, every_s), bool(commands)
        self._handles: dict[int, int] = {}
        self._write_handle: int | None = None
        self._begun_s = 0.0
        self.streams: tuple[Stream, ...] = ()
        self.refused: tuple[str, ...] = ()
        self.settings = LineSettings(0)
        self.written: tuple[Written, ...] = ()

    async def __aenter__(self) -> Self:
        """Find the device, connect, subscribe to all that sends by itself."""
        await self._link.open(self._prepare)
        self._begun_s = time.monotonic()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Disconnect."""
        await self._link.close()

    async def _prepare(self, link: BluetoothLink) -> None:
        streams: list[Stream] = []
        refused: list[str] = []
        for one in link.offered:
            if not one.notifies:
                continue
            try:
                await link.subscribe(one.handle)
            except DeviceError as error:
                refused.append(f"{one.uuid}: {error.what}")  # one that wants pairing must not hide the others
                continue
            self._handles[one.handle] = len(streams)
            streams.append(Stream(one.uuid.lower(), one.service.lower(), one.properties))
        self.streams, self.refused = tuple(streams), tuple(refused)
        if not streams:
            raise DeviceUnreadableError(
                self._address.text, "it has nothing that can be subscribed to", "Wake it, or choose another."
            )
        if self._any:
            where = self._written_to(link.offered)
            self._write_handle = where.handle
            self.written = self._commands.written(where.uuid.lower())
            for data in self._commands.begin(time.monotonic()):
                await link.write(where.handle, data, "what --write says")

    def _written_to(self, offered: Sequence[Offered]) -> Offered:
        writable = [one for one in offered if {"write", "write-without-response"} & set(one.properties)]
        named = [one for one in writable if self._write_to and one.uuid.lower().startswith(self._write_to)]
        if len(named) == 1 or (not self._write_to and len(writable) == 1):
            return (named or writable)[0]
        uuids = ", ".join(one.uuid for one in writable) or "none"
        raise DeviceUnreadableError(
            self._address.text,
            f"it is not clear where to write to; what can be written to is {uuids}",
            "Name one of them: --write-to UUID.",
        )

    async def next(self, within_s: float) -> Arrival | None:
        """Wait for a packet; None when none came in time."""
        now_s = time.monotonic()
        if (data := self._commands.due(now_s)) is not None and self._write_handle is not None:
            await self._link.write(self._write_handle, data, "what --write says")
        try:
            async with asyncio.timeout(min(within_s, self._commands.wait_s(now_s))):
                packet = await self._link.next()
        except TimeoutError:
            return None
        stream = self._handles.get(packet.handle)
        if stream is None:
            return None
        return Arrival(packet.time_s - self._begun_s, stream, packet.data)


class SerialEar:
    """Finds out how a serial line is set, and takes down what arrives."""

    link: Link = "serial"
    streams: tuple[Stream, ...] = (Stream(),)

    def __init__(self, address: Address, commands: Sequence[bytes], every_s: float | None) -> None:
        self._address = address
        self._commands = _Commands(commands, every_s)
        self.written = self._commands.written("")
        self.settings = LineSettings(9600)
        self._port: SerialPort | None = None
        self._begun_s = 0.0
        self.sense = 1.0

    async def __aenter__(self) -> Self:
        """Open the port; where the address does not say how the line is set, try."""
        said = port_settings(self._address, PortSettings())
        given = LineSettings(said.baud, _parity(said.parity), said.bytesize)
        self.settings = given
        if not {"baud", "parity", "bytesize"} & set(self._address.options):
            self.settings, self.sense = await find_settings(self._listen_at, given)
        self._port = self._opened(self.settings)
        await self._port.open()
        self._begun_s = time.monotonic()
        for data in self._commands.begin(self._begun_s):
            await self._port.write(data)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the port."""
        if self._port is not None:
            await self._port.close()

    def _opened(self, settings: LineSettings) -> SerialPort:
        parity = PARITIES[settings.parity]
        line = PortSettings(settings.baud, settings.bytesize, parity, 1)
        return SerialPort(self._address.text, self._address.target, line)

    async def _listen_at(self, settings: LineSettings) -> bytes:
        """Open the line so set, listen for a moment, and close it."""
        port = self._opened(settings)
        await port.open()
        heard = bytearray()
        try:
            for data in self._commands.begin(time.monotonic()):
                await port.write(data)
            async with asyncio.timeout(_TRY_S):
                while len(heard) < 2000:
                    heard += (await port.read()).data
        except TimeoutError:
            pass
        finally:
            await port.close()
        return bytes(heard)

    async def next(self, within_s: float) -> Arrival | None:
        """Wait for bytes; None when none came in time."""
        assert self._port is not None
        now_s = time.monotonic()
        if (data := self._commands.due(now_s)) is not None:
            await self._port.write(data)
        try:
            async with asyncio.timeout(min(within_s, self._commands.wait_s(now_s))):
                chunk = await self._port.read()
        except TimeoutError:
            return None
        return Arrival(chunk.time_s - self._begun_s, 0, chunk.data)


def _parity(letter: str) -> str:
    return next(name for name, known in PARITIES.items() if known == letter)

"""The driver for scales and thermometers that send text lines over a serial port.

``serial:/dev/ttyUSB0?baud=9600&lines=balance`` or ``serial:COM3?pattern=weight,temperature``. The line
shapes are in ``decoders``; this module reads the address, keeps the deadlines and owns the port's lifetime.
"""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import AsyncIterator
from dataclasses import dataclass
from types import TracebackType
from typing import Self
from urllib.parse import urlsplit

from drivers.address import Address
from drivers.decoders.balance_lines import BalanceLines
from drivers.decoders.line_reader import GARBAGE_S, LineReader
from drivers.decoders.measurement import Decoder
from drivers.decoders.pattern import PatternError
from drivers.decoders.pattern_lines import PatternLines
from drivers.device import ChannelNames
from drivers.errors import (
    AddressError,
    DeviceError,
    DeviceSilentError,
    DeviceUnreadableError,
)
from drivers.reading import Reading
from drivers.transports.serial_port import Chunk, PortSettings, SerialPort

_OPTIONS = ("baud", "bytesize", "parity", "stopbits", "lines", "pattern", "silent_s", "tare")
_PARITIES = {"none": "N", "even": "E", "odd": "O", "mark": "M", "space": "S"}
_ESCAPES = {"r": b"\r", "n": b"\n", "t": b"\t", "\\": b"\\"}
_ESCAPE = re.compile(r"\\(x[0-9A-Fa-f]{2}|.?)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class LineOptions:
    """What the address says about a device's lines.

    :param lines: ``balance`` or ``pattern``
    :param silent_s: how long nothing may arrive
    :param tare: what to send for a tare; empty where the device takes no command
    """

    port: PortSettings
    lines: str
    decoder: Decoder
    silent_s: float
    tare: bytes


def open_serial(address: Address, names: ChannelNames) -> SerialLines:
    """Make the device of a ``serial:`` address, not opened yet.

    :raises AddressError: when an option is unknown or makes no sense
    """
    return SerialLines(address, names, _options(address, names))


class SerialLines:
    """A device that sends text lines."""

    def __init__(self, address: Address, names: ChannelNames, options: LineOptions) -> None:
        self._address, self._options = address, options
        self._port = SerialPort(address.text, address.target, options.port)
        self._reader = LineReader(options.decoder, names.weight, names.temperature)

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def can_tare(self) -> bool:
        """Whether the address says what to send for a tare."""
        return bool(self._options.tare)

    @property
    def paced(self) -> float:
        """Hardware keeps the time of the wall clock."""
        return 1.0

    async def __aenter__(self) -> Self:
        """Open the port."""
        await self._port.open()
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
                chunk = await self._chunk(heard_s)
            except DeviceError:
                for reading in self._reader.release():
                    yield reading
                raise
            if chunk is None:
                readings = self._reader.release()
            else:
                heard_s = chunk.time_s
                readings = self._reader.push(chunk.time_s, chunk.data)
                if self._reader.garbage_only(chunk.time_s):
                    raise self._unreadable()
            for reading in readings:
                yield reading

    async def tare(self) -> None:
        """Send the tare text of the address."""
        if not self._options.tare:
            raise DeviceError(
                self.address,
                "this device has no tare command",
                "Press the tare key, or add what the device expects to the address: &tare=T\\r\\n",
            )
        await self._port.write(self._options.tare)

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        return {
            "driver": "serial",
            "lines": self._options.lines,
            "baud": self._options.port.baud,
            "stalls": self._port.stalls,
            **self._reader.facts(),
        }

    async def _chunk(self, heard_s: float) -> Chunk | None:
        """Wait for bytes; None when a held line is due first."""
        silent_at_s = heard_s + self._options.silent_s
        release_at_s = self._reader.release_at_s
        deadline_s = silent_at_s if release_at_s is None else min(silent_at_s, release_at_s)
        try:
            async with asyncio.timeout(deadline_s - time.monotonic()):
                return await self._port.read()
        except TimeoutError:
            if deadline_s < silent_at_s:
                return None
            raise self._silent() from None

    def _silent(self) -> DeviceSilentError:
        reader = self._reader
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
        last = self._reader.last_rejected
        if last is not None and last.unknown_unit is not None:
            return DeviceUnreadableError(
                self.address, f"{last.why}, in the line {last.text!r}", "Switch the device to grams."
            )
        seen = f"; the last line was {last.text!r}: {last.why}" if last else ""
        return DeviceUnreadableError(
            self.address,
            f"{self._reader.bytes} bytes arrived in {GARBAGE_S:g} s at {self._options.port.baud} baud "
            f"and no line could be read{seen}",
            "Set baud= (and parity=, bytesize=) to what the device's manual says; "
            "if the text looks right, describe the line with pattern=.",
        )


def _options(address: Address, names: ChannelNames) -> LineOptions:
    address.only(_OPTIONS)
    _check_url(address)
    port = PortSettings(
        int(address.number("baud", 9600, at_least=50, at_most=4_000_000)),
        int(address.choice("bytesize", "8", ("5", "6", "7", "8"))),
        _PARITIES[address.choice("parity", "none", _PARITIES)],
        float(address.choice("stopbits", "1", ("1", "1.5", "2"))),
    )
    pattern = address.options.get("pattern")
    lines = address.choice("lines", "balance" if pattern is None else "pattern", ("balance", "pattern"))
    if (lines == "pattern") != (pattern is not None):
        raise AddressError(
            address.text,
            f"lines={lines} and {'no pattern' if pattern is None else 'a pattern'} do not go together",
            "Write pattern=weight,temperature for free lines, or lines=balance alone.",
        )
    silent_s = address.number("silent_s", 10.0, at_least=0.1, at_most=86_400.0)
    decoder = BalanceLines() if pattern is None else _pattern_lines(address, pattern, names)
    return LineOptions(port, lines, decoder, silent_s, _tare_bytes(address))


def _check_url(address: Address) -> None:
    parts = urlsplit(address.target)
    if parts.scheme not in ("socket", "rfc2217"):
        return
    try:
        complete = bool(parts.hostname and parts.port)
    except ValueError:
        complete = False
    if not complete:
        raise AddressError(
            address.text, "host or port is missing", f"Write serial:{parts.scheme}://192.168.1.20:4000."
        )


def _pattern_lines(address: Address, pattern: str, names: ChannelNames) -> PatternLines:
    try:
        return PatternLines(pattern, names.weight, names.temperature)
    except PatternError as error:
        raise AddressError(
            address.text,
            f"the pattern {pattern!r} is wrong at character {error.position}: {error.what}",
            "A pattern looks like weight,temperature or time_ms;kettle:temperature_c.",
        ) from error


def _tare_bytes(address: Address) -> bytes:
    """Read the tare text with its escapes.

    :raises AddressError: when an escape is none of ``\\r``, ``\\n``, ``\\t``, ``\\\\``, ``\\xHH``
    """
    pieces, at = [], 0
    text = address.options.get("tare", "")
    for match in _ESCAPE.finditer(text):
        pieces.append(text[at : match.start()].encode("utf-8"))
        pieces.append(_escaped(address, match[1]))
        at = match.end()
    return b"".join((*pieces, text[at:].encode("utf-8")))


def _escaped(address: Address, code: str) -> bytes:
    if code in _ESCAPES:
        return _ESCAPES[code]
    if len(code) == 3:
        return bytes.fromhex(code[1:])
    raise AddressError(
        address.text,
        f"'\\{code}' in tare= is not known",
        "Write \\r, \\n, \\t, \\xHH, or \\\\ for a backslash.",
    )

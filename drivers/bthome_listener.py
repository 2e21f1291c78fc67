"""The driver for thermometers and scales that broadcast in the open BTHome format, without a connection.

``bthome:AA:BB:CC:DD:EE:FF``. A broadcast is sent several times and heard as often; a packet id, where the
device sends one, tells the repetitions. Encrypted broadcasts need the device's key and are only reported.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Mapping
from contextlib import AsyncExitStack
from dataclasses import dataclass
from types import MappingProxyType, TracebackType
from typing import Self, cast
from urllib.parse import unquote

from drivers.address import Address
from drivers.bluetooth_listening import channel_of
from drivers.decoders.bthome import BTHOME_SERVICE_DATA, BthomePacket, decode_bthome
from drivers.device import ChannelNames
from drivers.errors import DeviceError, DeviceSilentError, DeviceUnreadableError
from drivers.reading import Reading
from drivers.transports.bluetooth_scanner import Heard, Mode, listening
from drivers.transports.bluetooth_search import same_device, seen_text

SILENT_S = 60.0
ENCRYPTED_S = 3.0
"""How long encrypted broadcasts may come before the device is taken for one that sends nothing else."""

REPEAT_S = 1.0
"""A payload without a packet id that comes again after so long is a value that has not changed."""

_OPTIONS = ("silent_s", "scan")
_UUID = f"0000{BTHOME_SERVICE_DATA:04x}-0000-1000-8000-00805f9b34fb"
_WAITING = 4096


@dataclass(slots=True)
class _Counters:
    packets: int = 0
    repeated: int = 0
    rejected: int = 0
    encrypted: int = 0
    overruns: int = 0
    last_rejected: str = ""


def open_bthome(address: Address, names: ChannelNames) -> BthomeListener:
    """Make the device of a ``bthome:`` address, not opened yet.

    :raises AddressError: when an option is unknown or makes no sense
    """
    address.only(_OPTIONS)
    silent_s = address.number("silent_s", SILENT_S, at_least=0.1, at_most=86_400.0)
    mode = cast(Mode, address.choice("scan", "active", ("active", "passive")))
    return BthomeListener(address, names, silent_s, mode)


class BthomeListener:
    """A device that broadcasts its values."""

    can_tare = False

    def __init__(self, address: Address, names: ChannelNames, silent_s: float, mode: Mode) -> None:
        self._address, self._names = address, names
        self._target = unquote(address.target)
        self._silent_s, self._mode = silent_s, mode
        self._stack = AsyncExitStack()
        self._arrived: asyncio.Queue[Heard] = asyncio.Queue()
        self._others: dict[str, Heard] = {}
        self._counters = _Counters()
        self._repeats = Repeats()
        self._steps: dict[str, float] = {}
        self.battery_percent: int | None = None

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def paced(self) -> float:
        """Hardware keeps the time of the wall clock."""
        return 1.0

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel, g or °C, as far as it has been heard."""
        return MappingProxyType(self._steps)

    async def __aenter__(self) -> Self:
        """Begin to listen.

        :raises DeviceError: when Bluetooth cannot be used
        """
        self._arrived = asyncio.Queue()
        self._repeats = Repeats()
        self._others.clear()
        async with AsyncExitStack() as stack:
            await stack.enter_async_context(listening(self.address, self._hear, self._mode))
            self._stack = stack.pop_all()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Listen no more."""
        await self._stack.aclose()

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, each with the arrival time of its broadcast.

        :raises DeviceSilentError: when the device is not heard
        :raises DeviceUnreadableError: when it broadcasts nothing but encrypted or unreadable packets
        """
        heard_s = time.monotonic()
        first_unread_s: float | None = None
        was_read = False
        while True:
            heard = await self._next(heard_s + self._silent_s)
            heard_s = heard.time_s
            packet = decode_bthome(heard.service_data[_UUID])
            for reading in self._readings(heard, packet):
                was_read = True
                yield reading
            if packet.measurements:
                was_read = True
            elif not was_read and first_unread_s is None:
                first_unread_s = heard_s
            limit_s = ENCRYPTED_S if packet.encrypted else self._silent_s
            if not was_read and first_unread_s is not None and heard_s - first_unread_s > limit_s:
                raise self._unreadable(packet)

    async def tare(self) -> None:
        """Say that a device which only broadcasts takes no commands.

        :raises DeviceError: always
        """
        raise DeviceError(
            self.address, "a device that only broadcasts takes no commands", "Press its tare key."
        )

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        counters = self._counters
        facts: dict[str, object] = {
            "driver": "bthome",
            "packets": counters.packets,
            "packets_repeated": counters.repeated,
            "packets_rejected": counters.rejected,
            "packets_encrypted": counters.encrypted,
            "overruns": counters.overruns,
            "steps": dict(self._steps),
        }
        if counters.last_rejected:
            facts["last_rejected"] = counters.last_rejected
        if self.battery_percent is not None:
            facts["battery_percent"] = self.battery_percent
        return facts

    def _hear(self, heard: Heard) -> None:
        if not same_device(self._target, heard.address, heard.name):
            self._others[heard.address] = heard
        elif _UUID in heard.service_data:
            if self._arrived.qsize() >= _WAITING:
                self._counters.overruns += 1
            else:
                self._arrived.put_nowait(heard)

    async def _next(self, until_s: float) -> Heard:
        try:
            async with asyncio.timeout(until_s - time.monotonic()):
                return await self._arrived.get()
        except TimeoutError:
            raise self._silent() from None

    def _readings(self, heard: Heard, packet: BthomePacket) -> list[Reading]:
        counters = self._counters
        if self._repeats.again(heard.time_s, heard.service_data[_UUID], packet.packet_id):
            counters.repeated += 1
            return []
        counters.packets += 1
        counters.encrypted += packet.encrypted
        if packet.battery_percent is not None:
            self.battery_percent = packet.battery_percent
        if packet.why and not packet.encrypted:
            counters.rejected += 1
            counters.last_rejected = f"{heard.service_data[_UUID].hex(' ')} ({packet.why})"
        readings: list[Reading] = []
        for one, step in zip(packet.measurements, packet.steps, strict=True):
            channel = channel_of(one, self._names, {reading.channel for reading in readings})
            self._steps[channel] = step
            readings.append(
                Reading(channel, heard.time_s, one.value, one.unit, one.status, one.device_time_s)
            )
        return readings

    def _silent(self) -> DeviceSilentError:
        senders = [heard for heard in self._others.values() if _UUID in heard.service_data]
        others = (
            f"Of other BTHome devices: {seen_text(senders)}"
            if senders
            else "No other BTHome device is heard."
        )
        return DeviceSilentError(
            self.address,
            f"no BTHome broadcast of it was heard for {self._silent_s:g} s",
            f"Bring it closer and check its battery; if it sends seldom, add a longer silent_s=. {others}",
        )

    def _unreadable(self, packet: BthomePacket) -> DeviceUnreadableError:
        if packet.encrypted:
            return DeviceUnreadableError(
                self.address,
                "its broadcasts are encrypted, and evencup has no key for them",
                "Switch encryption off in the device's own settings.",
            )
        what = (
            f"its broadcasts cannot be read: {packet.why}"
            if packet.why
            else "it sends no weight or temperature"
        )
        return DeviceUnreadableError(
            self.address, what, "Check with evencup devices that this is the right device."
        )


class Repeats:
    """Tells a broadcast that was sent again from a new one."""

    def __init__(self) -> None:
        self._packet_id: int | None = None
        self._payload = b""
        self._taken_s = float("-inf")

    def again(self, time_s: float, payload: bytes, packet_id: int | None) -> bool:
        """Say whether a broadcast is the last one again.

        :param time_s: its arrival
        :param packet_id: None where none is sent: an equal payload within a second is a repetition then
        """
        if packet_id is not None:
            same = packet_id == self._packet_id
        else:
            same = payload == self._payload and time_s - self._taken_s < REPEAT_S
        if not same:
            self._packet_id, self._payload, self._taken_s = packet_id, payload, time_s
        return same

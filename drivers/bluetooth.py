"""The driver for scales and thermometers that are connected over Bluetooth LE.

``ble:AA:BB:CC:DD:EE:FF``, or the device's name or macOS UUID in place of its address. Without a description
it listens to the open standard services; ``described=FILE`` names a file that describes the packets of a
device that follows no standard. This module reads the address, keeps the deadlines and owns the link's
lifetime.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from types import TracebackType
from typing import Self
from urllib.parse import unquote

from drivers.address import Address
from drivers.bluetooth_listening import Chore, Decoded, Listening
from drivers.bluetooth_standard import StandardServices
from drivers.decoders.measurement import Rejected
from drivers.device import ChannelNames
from drivers.errors import DeviceError, DeviceSilentError, DeviceUnreadableError
from drivers.reading import Reading
from drivers.transports.bluetooth import BluetoothLink, Packet

TIMEOUT_S = 20.0

_OPTIONS = ("described", "silent_s", "timeout_s")


@dataclass(slots=True)
class _Counters:
    packets: int = 0
    read: int = 0
    rejected: int = 0
    last_rejected: Rejected | None = None
    overruns: int = 0


def open_ble(address: Address, names: ChannelNames) -> BluetoothDevice:
    """Make the device of a ``ble:`` address, not opened yet.

    :raises AddressError: when an option is unknown or makes no sense
    """
    address.only(_OPTIONS)
    listening = _listening(address, names)
    silent_s = address.number("silent_s", listening.silent_s, at_least=0.1, at_most=86_400.0)
    timeout_s = address.number("timeout_s", TIMEOUT_S, at_least=0.5, at_most=600.0)
    return BluetoothDevice(address, listening, silent_s, timeout_s)


class BluetoothDevice:
    """A device that is connected over Bluetooth LE."""

    def __init__(self, address: Address, listening: Listening, silent_s: float, timeout_s: float) -> None:
        self._address, self._listening = address, listening
        self._silent_s, self._timeout_s = silent_s, timeout_s
        self._counters = _Counters()
        self._link = self._new_link()

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def can_tare(self) -> bool:
        """Whether the description says what to send for a tare."""
        return self._listening.can_tare

    @property
    def paced(self) -> float:
        """Hardware keeps the time of the wall clock."""
        return 1.0

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel's display, g or °C, as far as it is known by now."""
        return self._listening.steps

    @property
    def battery_percent(self) -> int | None:
        """What is left in the device's battery, where it says so."""
        return self._listening.battery_percent

    async def __aenter__(self) -> Self:
        """Find the device, connect and subscribe."""
        self._counters.overruns += self._link.overruns
        self._link = self._new_link()
        await self._link.open(self._listening.prepare)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Disconnect."""
        await self._link.close()

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, each with the arrival time of its packet.

        :raises DeviceLostError: when the link broke
        :raises DeviceSilentError: when the link is up and nothing arrives
        :raises DeviceUnreadableError: when nothing of what arrives can be read
        """
        begun_s = heard_s = time.monotonic()
        chores = Chores(self._listening.chores, begun_s)
        read_before = self._counters.read
        while True:
            packet = await self._packet(min(heard_s + self._silent_s, chores.due_s))
            now_s = time.monotonic()
            if packet is not None:
                decoded = self._decode(packet)
                for reading in _readings(packet, decoded):
                    yield reading
                heard_s = packet.time_s if decoded.measures else heard_s
                if self._counters.read == read_before and packet.time_s - begun_s > self._silent_s:
                    raise self._unreadable()
            elif now_s >= heard_s + self._silent_s:
                silent = self._silent()
                await self._link.close()
                for packet in self._link.rest():  # it may have spoken at the very moment
                    for reading in _readings(packet, self._decode(packet)):
                        yield reading
                raise silent
            await chores.do_those_due(self._link, now_s)

    async def tare(self) -> None:
        """Set the scale to zero.

        :raises DeviceError: when the device cannot, or refuses
        """
        await self._listening.tare(self._link)

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        counters, last = self._counters, self._counters.last_rejected
        facts: dict[str, object] = {
            "driver": "ble",
            "name": self._link.name,
            "bluetooth_address": self._link.bluetooth_address,
            "packets": counters.packets,
            "packets_rejected": counters.rejected,
            "overruns": counters.overruns + self._link.overruns,
            "steps": dict(self.steps),
        }
        if last is not None:
            facts["last_rejected"] = f"{last.text} ({last.why})"
        if self.battery_percent is not None:
            facts["battery_percent"] = self.battery_percent
        return facts

    def _new_link(self) -> BluetoothLink:
        target = unquote(self._address.target)
        return BluetoothLink(self.address, target, self._timeout_s, self._listening.services)

    async def _packet(self, until_s: float) -> Packet | None:
        """Wait for a packet; None when the time is up."""
        try:
            async with asyncio.timeout(until_s - time.monotonic()):
                return await self._link.next()
        except TimeoutError:
            return None

    def _decode(self, packet: Packet) -> Decoded:
        decoded, counters = self._listening.decode(packet), self._counters
        counters.packets += 1
        counters.read += len(decoded.measurements)
        counters.rejected += len(decoded.rejected)
        if decoded.rejected:
            counters.last_rejected = decoded.rejected[-1]
        return decoded

    def _silent(self) -> DeviceError:
        counters = self._counters
        if counters.rejected and not counters.read:
            return self._unreadable()
        return DeviceSilentError(
            self.address,
            f"it is connected but has sent nothing for {self._silent_s:g} s",
            "Put something on the scale or switch the device off and on; if it sends only now and then, "
            "add a longer silent_s= to the address.",
        )

    def _unreadable(self) -> DeviceUnreadableError:
        counters, last = self._counters, self._counters.last_rejected
        seen = f"; the last one was {last.text}: {last.why}" if last else ""
        return DeviceUnreadableError(
            self.address,
            f"of {counters.packets} packets none could be read{seen}",
            "Describe its packets in a file and add described=FILE: see docs/bluetooth.md.",
        )


def _readings(packet: Packet, decoded: Decoded) -> list[Reading]:
    return [
        Reading(channel, packet.time_s, one.value, one.unit, one.status, one.device_time_s)
        for channel, one in decoded.measurements
    ]


class Chores:
    """What is to be done on a link at times of its own."""

    def __init__(self, chores: tuple[Chore, ...], begun_s: float) -> None:
        self._due = [(begun_s + chore.every_s, chore) for chore in chores]

    @property
    def due_s(self) -> float:
        """When the next is due, on the monotonic clock; infinity where there are none."""
        return min((due_s for due_s, _ in self._due), default=math.inf)

    async def do_those_due(self, link: BluetoothLink, now_s: float) -> None:
        """Do what is due, and set when it is due again: late ones are not made up for.

        :raises DeviceError: refused, or the link broke
        """
        for number, (due_s, chore) in enumerate(self._due):
            if due_s <= now_s:
                await chore.do(link)
                self._due[number] = (max(due_s + chore.every_s, now_s), chore)


def _listening(address: Address, names: ChannelNames) -> Listening:
    path = address.options.get("described")
    if path is None:
        return StandardServices(address, names)
    from drivers.bluetooth_described import DescribedDevice

    return DescribedDevice(address, path, names)

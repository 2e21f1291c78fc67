"""What to listen to on a Bluetooth device: the contract between the driver and what it can understand."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from drivers.decoders.measurement import Measurement, Rejected
from drivers.device import ChannelNames
from drivers.reading import GRAM
from drivers.transports.bluetooth import BluetoothLink, Offered, Packet

_BASE_UUID = "-0000-1000-8000-00805f9b34fb"
_LONGEST_NAME = 30


@dataclass(frozen=True, slots=True)
class Decoded:
    """What one packet gave.

    :param measurements: each with its channel
    :param measures: whether it came from a characteristic that measures, and not from the battery
    """

    measurements: tuple[tuple[str, Measurement], ...] = ()
    rejected: tuple[Rejected, ...] = ()
    measures: bool = True


@dataclass(frozen=True, slots=True)
class Chore:
    """Something to do on the open link again and again."""

    every_s: float
    do: Callable[[BluetoothLink], Awaitable[None]]


class Listening(Protocol):
    """What to listen to on a device, and how to understand it.

    :param silent_s: how long nothing may arrive, where the address does not say
    :param services: UUIDs by which the device is found among those connected already
    """

    silent_s: float
    services: tuple[str, ...]
    battery_percent: int | None

    @property
    def can_tare(self) -> bool:
        """Whether :meth:`tare` reaches the device."""

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel, g or °C, where it is known."""

    @property
    def chores(self) -> tuple[Chore, ...]:
        """What is to be done while listening; known after :meth:`prepare`."""

    async def prepare(self, link: BluetoothLink) -> None:
        """Subscribe; may be called again on another link.

        :raises DeviceError: when the device has nothing to listen to, or refuses
        """

    def decode(self, packet: Packet) -> Decoded:
        """Decode a packet; never raises."""

    async def tare(self, link: BluetoothLink) -> None:
        """Set the scale to zero.

        :raises DeviceError: when the device cannot, or refuses
        """


def channel_of(measurement: Measurement, names: ChannelNames, taken: set[str]) -> str:
    """Name the channel of a measurement; a second one of the same kind gets a 2 behind it."""
    default = names.weight if measurement.unit == GRAM else names.temperature
    return measurement.name or numbered(default, taken)


def numbered(name: str, taken: set[str]) -> str:
    """Give the first of ``name``, ``name2``, ``name3`` ... that is not taken."""
    number, candidate = 1, name
    while candidate in taken:
        number += 1
        candidate = f"{name[:_LONGEST_NAME]}{number}"
    return candidate


def assigned_number(uuid: str) -> int | None:
    """Give the short form of a standard UUID; None for any other."""
    uuid = uuid.lower()
    return int(uuid[:8], 16) if uuid.endswith(_BASE_UUID) else None


def offered_text(offered: Iterable[Offered]) -> str:
    """List what a device has, service by service, as it would be written into a description."""
    texts: dict[str, list[str]] = {}
    for one in offered:
        texts.setdefault(one.service, []).append(f"{_short(one.uuid)} ({', '.join(one.properties)})")
    services = [f"service {_short(service)} with {', '.join(those)}" for service, those in texts.items()]
    return "; ".join(services) or "nothing at all"


def _short(uuid: str) -> str:
    number = assigned_number(uuid)
    return uuid if number is None else f"0x{number:04X}"

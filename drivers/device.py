"""The Device protocol, the registry of drivers, and ``open_device``.

A driver is a factory: it takes an :class:`Address` and the :class:`ChannelNames` wanted for this brew and
returns a :class:`Device` that has not touched any hardware yet. Hardware is touched on ``async with``.
Adding a driver takes one module and one line in ``DRIVERS`` here, or, from another package, one entry
point in the group ``evencup.drivers``.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import entry_points
from types import TracebackType
from typing import Protocol, Self, cast

from drivers.address import Address, parse_address
from drivers.errors import AddressError
from drivers.reading import Reading

ENTRY_POINT_GROUP = "evencup.drivers"

DRIVERS = {
    "serial": "drivers.serial_lines:open_serial",
    "ble": "drivers.bluetooth:open_ble",
    "bthome": "drivers.bthome_listener:open_bthome",
    "modbus": "drivers.modbus:open_modbus",
    "hid": "drivers.hid_scale:open_hid",
    "simulated": "drivers.simulated.device:open_simulated",
    "playback": "drivers.playback:open_playback",
}


@dataclass(frozen=True, slots=True)
class ChannelNames:
    """The names that a device's channels get where the device does not name them itself."""

    weight: str = "scale"
    temperature: str = "thermometer"


class Device(Protocol):
    """A thing that gives readings.

    Use it as ``async with device: async for reading in device: ...``. The iteration ends when the device
    has no more to give (a playback, a simulated brew) and raises :class:`DeviceLostError` when the link
    breaks. Leaving the ``async with`` closes the hardware, also on cancellation.
    """

    @property
    def address(self) -> str:
        """The address as the user wrote it."""

    @property
    def can_tare(self) -> bool:
        """Whether :meth:`tare` reaches the hardware."""

    @property
    def paced(self) -> float:
        """Seconds of the readings' time axis per second of the wall clock: 1 for hardware, the speed for
        a playback, infinity for one that runs as fast as it can.
        """

    async def __aenter__(self) -> Self:
        """Open the device.

        :raises DeviceError: with what is wrong and what to do
        """

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the device; never raises for a link that is gone already."""

    def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, in the order of arrival."""

    async def tare(self) -> None:
        """Set the scale to zero.

        :raises DeviceError: when the device cannot
        """

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording: driver, counters of damaged lines, ..."""


Factory = Callable[[Address, ChannelNames], Device]


def known_schemes() -> tuple[str, ...]:
    """Every scheme that an address may begin with, evencup's own first."""
    others = sorted({point.name for point in entry_points(group=ENTRY_POINT_GROUP)} - set(DRIVERS))
    return (*DRIVERS, *others)


def open_device(address: str, names: ChannelNames | None = None) -> Device:
    """Find the driver for an address and make its device, not opened yet.

    :param address: ``serial:/dev/ttyUSB0?baud=9600``, ``simulated:target.toml?seed=3``, ...
    :param names: what the device's unnamed channels are called in this brew
    :raises AddressError: when no driver knows the scheme, or the address makes no sense to its driver
    """
    parsed = parse_address(address)
    return _factory(parsed)(parsed, names or ChannelNames())


def _factory(address: Address) -> Factory:
    if place := DRIVERS.get(address.scheme):
        module, _, name = place.partition(":")
        return cast(Factory, getattr(import_module(module), name))
    for point in entry_points(group=ENTRY_POINT_GROUP, name=address.scheme):
        return cast(Factory, point.load())
    raise AddressError(
        address.text,
        f"no driver knows '{address.scheme}:'",
        f"Known are: {', '.join(name + ':' for name in known_schemes())}.",
    )

"""Bytes in, readings out. Knows nothing about coffee and imports nothing from ``logger``."""

from drivers.address import Address, parse_address
from drivers.device import ChannelNames, Device, known_schemes, open_device
from drivers.errors import (
    AddressError,
    DeviceDeniedError,
    DeviceError,
    DeviceLostError,
    DeviceNotFoundError,
    DeviceSilentError,
    DeviceUnreadableError,
)
from drivers.reading import CELSIUS, GRAM, Reading, Status, Unit

__all__ = [
    "CELSIUS",
    "GRAM",
    "Address",
    "AddressError",
    "ChannelNames",
    "Device",
    "DeviceDeniedError",
    "DeviceError",
    "DeviceLostError",
    "DeviceNotFoundError",
    "DeviceSilentError",
    "DeviceUnreadableError",
    "Reading",
    "Status",
    "Unit",
    "known_schemes",
    "open_device",
    "parse_address",
]

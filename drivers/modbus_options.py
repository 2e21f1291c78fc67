"""What the address of a Modbus unit says: where it is, how often to ask, and how to set it to zero."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from drivers.address import Address
from drivers.device import ChannelNames
from drivers.modbus_channels import (
    CHANNEL_OPTIONS,
    LAST_NUMBER,
    RegisterChannel,
    is_channel_option,
    place_of,
    register_channels,
    wrong,
)
from drivers.transports.modbus_settings import LinkSettings, Place
from drivers.transports.serial_port import PortSettings

OPTIONS = (
    "baud",
    "bytesize",
    "every_ms",
    "parity",
    "silent_s",
    "stopbits",
    "tare",
    "timeout_s",
    "unit",
    "units",
)

_PARITIES = {"none": "N", "even": "E", "odd": "O"}


@dataclass(frozen=True, slots=True)
class Write:
    """What to set for a tare."""

    place: Place
    value: int


@dataclass(frozen=True, slots=True)
class ModbusOptions:
    """An address of a unit, understood.

    :param every_s: from the beginning of one round of requests to the next
    :param silent_s: how long there may be no answer
    """

    link: LinkSettings
    channels: tuple[RegisterChannel, ...]
    every_s: float
    silent_s: float
    tare: Write | None


def modbus_options(address: Address, names: ChannelNames) -> ModbusOptions:
    """Understand the address of a unit.

    :raises AddressError: when an option is unknown or makes no sense
    """
    address.only([*OPTIONS, *CHANNEL_OPTIONS, *filter(is_channel_option, address.options)])
    return ModbusOptions(
        _link(address),
        register_channels(address, names),
        address.number("every_ms", 200.0, at_least=10.0, at_most=3_600_000.0) / 1000.0,
        address.number("silent_s", 10.0, at_least=0.1, at_most=86_400.0),
        _tare(address),
    )


def _link(address: Address) -> LinkSettings:
    host, port, rtu = _network(address)
    unit = address.number("unit", 1, at_least=1 if rtu else 0, at_most=247 if rtu else 255)
    if unit != int(unit):
        wrong(address, f"unit={unit:g} is not a whole number", "Give the unit's number, unit=1 for instance.")
    serial = PortSettings(
        int(address.number("baud", 9600, at_least=50, at_most=4_000_000)),
        int(address.choice("bytesize", "8", ("7", "8"))),
        _PARITIES[address.choice("parity", "none", _PARITIES)],
        float(address.choice("stopbits", "1", ("1", "1.5", "2"))),
    )
    timeout_s = address.number("timeout_s", 1.0, at_least=0.02, at_most=60.0)
    return LinkSettings(address.target, host, port, rtu, serial, int(unit), timeout_s)


def _network(address: Address) -> tuple[str, int, bool]:
    """Give host, port and whether frames are RTU; no host for a serial port."""
    if "://" not in address.target:
        return "", 0, True
    example = "Write modbus:tcp://192.168.1.20:502, or modbus:rtu+tcp://192.168.1.20:4000 for RTU frames."
    parts = urlsplit(address.target)
    if parts.scheme not in ("tcp", "rtu+tcp"):
        wrong(address, f"'{parts.scheme}://' is not known here", example)
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host or parts.path.strip("/") or (parts.scheme == "rtu+tcp" and not port):
        wrong(address, "host or port is missing or makes no sense", example)
    return host, port or 502, parts.scheme == "rtu+tcp"


def _tare(address: Address) -> Write | None:
    text = address.options.get("tare")
    if text is None:
        return None
    place, rest = place_of(address, "tare", text)
    value = rest[0] if rest else "1" if place.is_bits else ""
    highest = 1 if place.is_bits else LAST_NUMBER
    if (
        place.kind not in ("coil", "holding")
        or len(rest) > 1
        or not re.fullmatch(r"[0-9]{1,5}", value)
        or int(value) > highest
    ):
        wrong(
            address,
            f"tare={text} cannot be written",
            "Write tare=coil:5 to set a coil, or tare=holding:10:1 to write 1 into a register.",
        )
    return Write(place, int(value))

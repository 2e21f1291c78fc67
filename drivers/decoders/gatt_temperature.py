"""Temperatures of the Bluetooth services: Health Thermometer (0x1809) and Environmental Sensing (0x181A).

::

    00 6C 01 00 FF                           36.4 °C on 0x2A1C or 0x2A1E
    |  `--------- FLOAT of IEEE 11073
    `------------ flags: 1 °F, 2 time stamp (7 bytes), 4 where it was taken (1 byte)

    8C 24                                    93.56 °C on 0x2A6E
    `------------ s16, in 0.01 °C; 8000 where the value is not known
"""

from __future__ import annotations

import math

from drivers.decoders.gatt_time import DATE_TIME_BYTES, decode_date_time
from drivers.decoders.ieee11073 import DecimalNumber, decode_float
from drivers.decoders.measurement import Measurement, Rejected
from drivers.reading import CELSIUS, Status

HEALTH_THERMOMETER_SERVICE = 0x1809
TEMPERATURE_MEASUREMENT = 0x2A1C
INTERMEDIATE_TEMPERATURE = 0x2A1E
ENVIRONMENTAL_SENSING_SERVICE = 0x181A
TEMPERATURE = 0x2A6E

TEMPERATURE_STEP_C = 0.01
"""What one count of 0x2A6E is."""

_FAHRENHEIT, _TIME_STAMP, _TYPE = 1, 2, 4
_ABSOLUTE_ZERO_C = -273.15
_UNKNOWN = -0x8000
_BELOW_ZERO_KELVIN = "is below absolute zero"


def decode_temperature_measurement(packet: bytes) -> Measurement | Rejected:
    """Decode what a thermometer sends on 0x2A1C (a settled value) or 0x2A1E (one on the way there)."""
    if why := _too_short(packet):
        return Rejected(packet.hex(" "), why)
    flags, number = packet[0], decode_float(packet[1:5])
    device_time_s = decode_date_time(packet[5:]) if flags & _TIME_STAMP else None
    if number.special is not None:
        return Measurement(None, math.nan, CELSIUS, number.special.status, device_time_s)
    value = _from_fahrenheit(number) if flags & _FAHRENHEIT else number.value
    if value < _ABSOLUTE_ZERO_C:
        return Rejected(packet.hex(" "), f"{value:g} °C {_BELOW_ZERO_KELVIN}")
    return Measurement(None, value, CELSIUS, Status.UNKNOWN, device_time_s)


def temperature_measurement_step_c(packet: bytes) -> float | None:
    """Give the step of the value in a packet of 0x2A1C or 0x2A1E, °C; None where it holds no value."""
    if _too_short(packet):
        return None
    number = decode_float(packet[1:5])
    if number.special is not None:
        return None
    return number.step * 5 / 9 if packet[0] & _FAHRENHEIT else number.step


def decode_temperature(packet: bytes) -> Measurement | Rejected:
    """Decode what is read from or sent on 0x2A6E."""
    if len(packet) != 2:
        return Rejected(packet.hex(" "), f"{len(packet)} bytes where 2 are expected")
    raw = int.from_bytes(packet, "little", signed=True)
    if raw == _UNKNOWN:
        return Measurement(None, math.nan, CELSIUS, Status.ERROR)
    value = raw / 100
    if value < _ABSOLUTE_ZERO_C:
        return Rejected(packet.hex(" "), f"{value:g} °C {_BELOW_ZERO_KELVIN}")
    return Measurement(None, value, CELSIUS)


def _too_short(packet: bytes) -> str:
    if len(packet) < 5:
        return f"{len(packet)} bytes are too few for a temperature"
    flags = packet[0]
    needed = 5 + (DATE_TIME_BYTES if flags & _TIME_STAMP else 0) + (1 if flags & _TYPE else 0)
    return "" if len(packet) >= needed else f"its flags announce {needed} bytes and it has {len(packet)}"


def _from_fahrenheit(number: DecimalNumber) -> float:
    above, below = number.ratio
    return (above - 32 * below) * 5 / (9 * below)  # integers up to the one division, which rounds once

"""BTHome v2 (https://bthome.io/format): values broadcast in the service data of the UUID 0xFCD2.

::

    40 00 07 02 C4 09 06 5E 1F
    |  |     |        `- object 06: mass, u16 in 0.01 kg -> 80.30 kg
    |  |     `---------- object 02: temperature, s16 in 0.01 °C -> 25.00 °C
    |  `---------------- object 00: packet id 7; the same again means the same packet again
    `------------------- device: bits 5-7 version 2, bit 0 encrypted

An object is its id and as many bytes as the published table says; what is no weight and no temperature is
stepped over, and an id that is not in the table ends the reading, as the format asks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from drivers.decoders.measurement import Measurement
from drivers.reading import CELSIUS, GRAM, Unit

BTHOME_SERVICE_DATA = 0xFCD2

_ENCRYPTED, _VERSION = 1, 2
_PACKET_ID, _BATTERY, _TIME_STAMP = 0x00, 0x01, 0x50
_ABSOLUTE_ZERO_C = -273.15


@dataclass(frozen=True, slots=True)
class _Quantity:
    """A weight or a temperature: signedness, and grams or °C per count as an exact fraction."""

    unit: Unit
    signed: bool
    above: int
    below: int = 1

    @property
    def step(self) -> float:
        return self.above / self.below


_QUANTITIES = {
    0x02: _Quantity(CELSIUS, True, 1, 100),
    0x06: _Quantity(GRAM, False, 10),
    0x07: _Quantity(GRAM, False, 45359237, 10**7),  # 0.01 lb; 1 lb is 453.59237 g exactly
    0x45: _Quantity(CELSIUS, True, 1, 10),
    0x57: _Quantity(CELSIUS, True, 1),
    0x58: _Quantity(CELSIUS, True, 35, 100),
}

# Bytes of an object after its id. From the published table; 60 to 65 are younger than the copy of it at hand
# and follow bthome-ble 3.25, the format's own reader.
_LENGTHS = {
    **dict.fromkeys([0x00, 0x01, 0x09, *range(0x0F, 0x12), *range(0x15, 0x30), 0x3A, 0x46], 1),
    **dict.fromkeys([0x57, 0x58, 0x59, 0x60, 0x64, 0x65], 1),
    **dict.fromkeys([0x02, 0x03, 0x06, 0x07, 0x08, 0x0C, 0x0D, 0x0E, 0x12, 0x13, 0x14, 0x3C, 0x3D], 2),
    **dict.fromkeys([0x3F, 0x40, 0x41, 0x43, 0x44, 0x45, 0x47, 0x48, 0x49, 0x4A, 0x51, 0x52, 0x56], 2),
    **dict.fromkeys([0x5A, 0x5D, 0x5E, 0x5F, 0x61, 0xF0], 2),
    **dict.fromkeys([0x04, 0x05, 0x0A, 0x0B, 0x42, 0x4B, 0xF2], 3),
    **dict.fromkeys([0x3E, 0x4C, 0x4D, 0x4E, 0x4F, 0x50, 0x55, 0x5B, 0x5C, 0x62, 0x63, 0xF1], 4),
}
_COMMAND = 0x3B  # a control byte (low 5 bits: bytes of arguments), the command, its arguments
_COUNTED = (0x53, 0x54)  # text and raw bytes: their number comes first


@dataclass(frozen=True, slots=True)
class BthomePacket:
    """What one broadcast holds.

    :param measurements: weights and temperatures in the order sent, without names: a device that sends two
        temperatures sends them in the same order every time
    :param steps: the step of each of them, g or °C
    :param packet_id: equal to the one before where the packet is a repetition; None where none is sent
    :param battery_percent: 0 to 100, None where none is sent
    :param encrypted: it cannot be read without the device's key, and nothing of it was
    :param why: what was not read and why, a clause; empty where all of it was
    """

    measurements: tuple[Measurement, ...] = ()
    steps: tuple[float, ...] = ()
    packet_id: int | None = None
    battery_percent: int | None = None
    encrypted: bool = False
    why: str = ""


def decode_bthome(service_data: bytes) -> BthomePacket:
    """Decode the service data, from the byte after the UUID on."""
    if not service_data:
        return BthomePacket(why="it is empty")
    if (version := service_data[0] >> 5) != _VERSION:
        return BthomePacket(why=f"it is of version {version} of the format, not {_VERSION}")
    if service_data[0] & _ENCRYPTED:
        return BthomePacket(encrypted=True, why="it is encrypted")
    objects, why = _objects(service_data)
    return _packet(objects, why)


def _objects(data: bytes) -> tuple[list[tuple[int, bytes]], str]:
    """Split the objects after the device byte, as far as they are whole and known."""
    objects: list[tuple[int, bytes]] = []
    at = 1
    while at < len(data):
        number = data[at]
        length = _length(data, at)
        if length is None:
            return objects, f"object 0x{number:02X} is not in the table"
        if at + 1 + length > len(data):
            return objects, f"object 0x{number:02X} is cut off"
        objects.append((number, data[at + 1 : at + 1 + length]))
        at += 1 + length
    return objects, ""


def _length(data: bytes, at: int) -> int | None:
    number = data[at]
    first = data[at + 1] if at + 1 < len(data) else 0
    if number in _COUNTED:
        return 1 + first
    if number == _COMMAND:
        return 2 + (first & 0x1F)
    return _LENGTHS.get(number)


def _packet(objects: list[tuple[int, bytes]], why: str) -> BthomePacket:
    found: list[Measurement] = []
    steps: list[float] = []
    packet_id = battery_percent = device_time_s = None
    for number, data in objects:
        if quantity := _QUANTITIES.get(number):
            raw = int.from_bytes(data, "little", signed=quantity.signed)
            value = raw * quantity.above / quantity.below
            if quantity.unit == CELSIUS and value < _ABSOLUTE_ZERO_C:
                why = why or f"{value:g} °C is below absolute zero"
                continue
            found.append(Measurement(None, value, quantity.unit))
            steps.append(quantity.step)
        elif number == _PACKET_ID:
            packet_id = data[0]
        elif number == _BATTERY and data[0] <= 100:
            battery_percent = data[0]
        elif number == _TIME_STAMP:
            device_time_s = float(int.from_bytes(data, "little"))
    if device_time_s is not None:
        found = [replace(one, device_time_s=device_time_s) for one in found]
    return BthomePacket(tuple(found), tuple(steps), packet_id, battery_percent, why=why)

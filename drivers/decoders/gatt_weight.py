"""The Bluetooth Weight Scale service: weights in steps of 5 g or 0.01 lb, sent once they have settled.

::

    00 64 00                                 0.500 kg
    |  `--------- u16, in 0.005 kg or 0.01 lb; FFFF where the measurement was not successful
    `------------ flags: 1 pounds, 2 time stamp (7 bytes), 4 user (1), 8 body mass index and height (4)

Good for checking a dose; far too coarse for a pour. Bits that a later edition may use are ignored, and so
is what follows the fields that the flags announce.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivers.decoders.gatt_time import DATE_TIME_BYTES, decode_date_time
from drivers.decoders.measurement import Measurement, Rejected
from drivers.reading import GRAM, Status

WEIGHT_SCALE_SERVICE = 0x181D
WEIGHT_MEASUREMENT = 0x2A9D
WEIGHT_SCALE_FEATURE = 0x2A9E

SI_STEP_G = 5.0
IMPERIAL_STEP_G = 4.5359237
"""What one count of the weight field is: 0.005 kg and 0.01 lb. No such scale resolves more."""

_UNSUCCESSFUL = 0xFFFF
_IMPERIAL, _TIME_STAMP, _USER, _BODY = 1, 2, 4, 8

# Code of the resolution field to steps, in 0.005 kg and 0.01 lb.
_SI_STEPS = (None, 100, 40, 20, 10, 4, 2, 1)
_IMPERIAL_STEPS = (None, 100, 50, 20, 10, 5, 2, 1)


def decode_weight_measurement(packet: bytes) -> Measurement | Rejected:
    """Decode what a scale sends on 0x2A9D."""
    if len(packet) < 3:
        return Rejected(packet.hex(" "), f"{len(packet)} bytes are too few for a weight")
    flags, raw = packet[0], int.from_bytes(packet[1:3], "little")
    if raw != _UNSUCCESSFUL and len(packet) < (needed := _length(flags)):
        return Rejected(packet.hex(" "), f"its flags announce {needed} bytes and it has {len(packet)}")
    device_time_s = decode_date_time(packet[3:]) if flags & _TIME_STAMP else None
    if raw == _UNSUCCESSFUL:
        return Measurement(None, math.nan, GRAM, Status.ERROR, device_time_s)
    return Measurement(None, _grams(raw, bool(flags & _IMPERIAL)), GRAM, Status.UNKNOWN, device_time_s)


def _length(flags: int) -> int:
    time_stamp = DATE_TIME_BYTES if flags & _TIME_STAMP else 0
    return 3 + time_stamp + (1 if flags & _USER else 0) + (4 if flags & _BODY else 0)


def _grams(raw: int, imperial: bool) -> float:
    # 1 lb is 453.59237 g exactly; the quotient of two integers is rounded once.
    return raw * 45359237 / 10**7 if imperial else raw * 5.0


@dataclass(frozen=True, slots=True)
class WeightFeature:
    """What a scale says that it can.

    :param si_step_g: the step of its weights while it sends kilograms, g; None where it does not tell
    :param imperial_step_g: the same while it sends pounds
    """

    has_time_stamp: bool
    has_users: bool
    has_body_mass_index: bool
    si_step_g: float | None
    imperial_step_g: float | None


def decode_weight_feature(packet: bytes) -> WeightFeature | Rejected:
    """Decode what is read from 0x2A9E."""
    if len(packet) < 4:
        return Rejected(packet.hex(" "), f"{len(packet)} bytes where 4 are expected")
    bits = int.from_bytes(packet[:4], "little")
    code = bits >> 3 & 0xF
    si = _SI_STEPS[code] if code < len(_SI_STEPS) else None
    imperial = _IMPERIAL_STEPS[code] if code < len(_IMPERIAL_STEPS) else None
    return WeightFeature(
        has_time_stamp=bool(bits & 1),
        has_users=bool(bits & 2),
        has_body_mass_index=bool(bits & 4),
        si_step_g=None if si is None else _grams(si, imperial=False),
        imperial_step_g=None if imperial is None else _grams(imperial, imperial=True),
    )

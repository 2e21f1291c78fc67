"""The decimal numbers of health and household sensors: FLOAT (32 bit) and SFLOAT (16 bit), IEEE 11073-20601.

::

    FLOAT   0xFF00016C      SFLOAT  0xF164
              || `---- mantissa      |`--- mantissa, 12 bit, two's complement
              `------- exponent      `---- exponent, 4 bit, two's complement
    = 364 * 10**-1 = 36.4          = 356 * 10**-1 = 35.6

Least significant byte first on the air. A number keeps its power of ten: 2, 2.0 and 2.00 are told apart, so
the step of the display is known. Five mantissas stand for no number, with the exponent 0 only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from drivers.reading import Status


class Special(Enum):
    """What is sent in place of a number."""

    NAN = "not a number"
    NRES = "not at this resolution"
    RESERVED = "a reserved code"
    ABOVE = "above the range"
    BELOW = "below the range"

    @property
    def status(self) -> Status:
        """The status of a measurement that has this in place of a value."""
        return {Special.ABOVE: Status.OVERLOAD, Special.BELOW: Status.UNDERLOAD}.get(self, Status.ERROR)


@dataclass(frozen=True, slots=True)
class DecimalNumber:
    """A number as sent: ``mantissa * 10**exponent``, or why there is none."""

    mantissa: int
    exponent: int
    special: Special | None = None

    @property
    def value(self) -> float:
        """The nearest float to the decimal number; NaN where there is none."""
        if self.special is not None:
            return math.nan
        above, below = self.ratio
        return above / below

    @property
    def step(self) -> float:
        """What the last digit counts: 0.1 for 36.4."""
        return float(10**self.exponent) if self.exponent >= 0 else 1 / 10**-self.exponent

    @property
    def ratio(self) -> tuple[int, int]:
        """The number as an exact fraction, for conversions that must round once only."""
        if self.exponent >= 0:
            return self.mantissa * 10**self.exponent, 1
        return self.mantissa, 10**-self.exponent


def decode_float(data: bytes) -> DecimalNumber:
    """Decode a FLOAT.

    :param data: four bytes
    :raises ValueError: when there are more or fewer
    """
    return _decode(data, mantissa_bits=24, exponent_bits=8)


def decode_sfloat(data: bytes) -> DecimalNumber:
    """Decode an SFLOAT.

    :param data: two bytes
    :raises ValueError: when there are more or fewer
    """
    return _decode(data, mantissa_bits=12, exponent_bits=4)


def _decode(data: bytes, mantissa_bits: int, exponent_bits: int) -> DecimalNumber:
    if len(data) * 8 != mantissa_bits + exponent_bits:
        raise ValueError(f"{len(data)} bytes where {(mantissa_bits + exponent_bits) // 8} are expected")
    word = int.from_bytes(data, "little")
    exponent = _signed(word >> mantissa_bits, exponent_bits)
    mantissa = _signed(word & ((1 << mantissa_bits) - 1), mantissa_bits)
    return DecimalNumber(mantissa, exponent, None if exponent else _special(mantissa, mantissa_bits))


def _signed(value: int, bits: int) -> int:
    return value - (1 << bits) if value >> (bits - 1) else value


def _special(mantissa: int, bits: int) -> Special | None:
    largest = (1 << (bits - 1)) - 1
    if largest - 1 <= mantissa:
        return Special.NAN if mantissa == largest else Special.ABOVE
    if mantissa <= 1 - largest:
        return {-1 - largest: Special.NRES, -largest: Special.RESERVED, 1 - largest: Special.BELOW}[mantissa]
    return None

"""Modbus registers to values: sixteen bits each, put together in the order that the device uses.

::

    int32 with the words 0x0001 0x86A0, scale 0.01

    word order big     word order little      byte order little: the bytes in each word are swapped too
    A B | C D          C D | A B
    0001 86A0          86A0 0001       ->  100000  ->  1000.00

The protocol itself fixes only the order of the bytes within a register (high byte first); the rest is each
maker's choice. Codes for "no value" are too, except that a float which is not a number never is one.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from drivers.decoders.byte_orders import ByteOrder
from drivers.reading import Status

# Words as in the Modbus literature; the code is struct's, empty for binary-coded decimals.
_FORMATS = {
    "int16": ">h",
    "uint16": ">H",
    "int32": ">i",
    "uint32": ">I",
    "int64": ">q",
    "uint64": ">Q",
    "float32": ">f",
    "float64": ">d",
}
_BCD_WORDS = {"bcd16": 1, "bcd32": 2}

TYPES = (*_FORMATS, *_BCD_WORDS)
"""Every type of number that registers may hold."""

ORDERS: dict[str, tuple[ByteOrder, ByteOrder]] = {
    "big": ("big", "big"),
    "little": ("little", "big"),
    "abcd": ("big", "big"),
    "cdab": ("little", "big"),
    "badc": ("big", "little"),
    "dcba": ("little", "little"),
}
"""Word order and byte order by name; the four letters are what many manuals print."""

# SCPI-1999, volume 1: 9.91E37 stands for "not a number", 9.9E37 and -9.9E37 for the infinities. Instruments
# that speak SCPI over one port often fill their registers with the same numbers.
_NO_NUMBER = 9.9e37


def words_of(kind: str) -> int:
    """Say how many registers a type takes.

    :param kind: one of ``TYPES``
    """
    return _BCD_WORDS.get(kind) or struct.calcsize(_FORMATS[kind]) // 2


def is_whole(kind: str) -> bool:
    """Say whether a type counts in whole steps, so that a scale factor is the step of the display."""
    return not kind.startswith("float")


def decode_registers(
    words: Sequence[int], kind: str, word_order: ByteOrder = "big", byte_order: ByteOrder = "big"
) -> float:
    """Put registers together to a number, not scaled.

    :param words: as they came, each 0 to 65535; as many as :func:`words_of` says
    :param kind: one of ``TYPES``
    :returns: the number; NaN for a decimal code with a digit above nine
    """
    number = _number(_in_order(words, word_order, byte_order), kind)
    return math.nan if number is None else float(number)


@dataclass(frozen=True, slots=True)
class NoValue:
    """A code that a device sends where it has no value.

    :param code: a bit pattern over all registers, or the number itself
    """

    code: int | float
    is_pattern: bool = False


@dataclass(frozen=True, slots=True)
class Quantity:
    """How registers become a quantity.

    :param kind: one of ``TYPES``
    :param scale: what one step stands for
    :param offset: added after scaling
    :param no_value: codes that mean that there is none
    """

    kind: str
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    word_order: ByteOrder = "big"
    byte_order: ByteOrder = "big"
    no_value: tuple[NoValue, ...] = ()

    @property
    def words(self) -> int:
        """How many registers it takes."""
        return words_of(self.kind)

    def value(self, words: Sequence[int]) -> Fraction | None:
        """Give the quantity, scaled; None where the registers hold none.

        Exact, because 57 steps of 0.01 are 0.57 and not 0.5700000000000001.
        """
        data = _in_order(words, self.word_order, self.byte_order)
        number = _number(data, self.kind)
        if number is None or not math.isfinite(number) or self._means_nothing(number, data):
            return None
        return Fraction(number) * self.scale + self.offset

    def _means_nothing(self, number: float, data: bytes) -> bool:
        if not is_whole(self.kind) and abs(number) >= _NO_NUMBER:
            return True
        pattern = int.from_bytes(data, "big")
        return any(none.code == (pattern if none.is_pattern else number) for none in self.no_value)


@dataclass(frozen=True, slots=True)
class StatusBits:
    """Where a device says what its value is worth: numbers of bits that are set when it applies."""

    stable: int | None = None
    moving: int | None = None
    overload: int | None = None
    underload: int | None = None
    error: int | None = None

    @property
    def highest(self) -> int:
        """The highest bit that matters."""
        return max(bit for bit in self._all() if bit is not None)

    def status(self, bits: Sequence[bool]) -> Status:
        """Read a status; a fault goes before a range, a range before motion.

        :param bits: bit 0 first
        """
        for bit, status in zip(self._all(), _SEVEREST_FIRST, strict=True):
            if bit is not None and bits[bit]:
                return status
        if self.stable is not None and self.moving is None:
            return Status.MOVING
        if self.moving is not None and self.stable is None:
            return Status.STABLE
        return Status.UNKNOWN

    def _all(self) -> tuple[int | None, ...]:
        return (self.error, self.overload, self.underload, self.moving, self.stable)


_SEVEREST_FIRST = (Status.ERROR, Status.OVERLOAD, Status.UNDERLOAD, Status.MOVING, Status.STABLE)


def bits_of(words: Sequence[int]) -> list[bool]:
    """Take registers apart into bits, the lowest of the first register first."""
    return [bool(word >> bit & 1) for word in words for bit in range(16)]


def _in_order(words: Sequence[int], word_order: ByteOrder, byte_order: ByteOrder) -> bytes:
    ordered = words if word_order == "big" else reversed(words)
    return b"".join(word.to_bytes(2, byte_order) for word in ordered)


def _number(data: bytes, kind: str) -> int | float | None:
    if kind in _BCD_WORDS:
        digits = data.hex()
        return int(digits) if digits.isdecimal() else None
    number: int | float = struct.unpack(_FORMATS[kind], data)[0]
    return number

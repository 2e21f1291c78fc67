"""The numbers of a frame: bytes to whole numbers, digits, text and floats, scaled without rounding.

Whole numbers are scaled as fractions: 1234 steps of 0.1 g are 123.4 g, and not 123.4 g and a bit.
"""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from drivers.decoders.byte_orders import WORD_ORDERS, highest_first
from drivers.decoders.frame_shapes import RefusedError, whole_number
from drivers.decoders.scpi import decode_scpi_number
from drivers.described.description import Bits, Field, Sign
from drivers.reading import Status

Reader = Callable[[bytes], float]
"""A frame to a number; NaN and the infinities where there is none."""

_Whole = Callable[[bytes], int]

_HEX = re.compile(rb"[0-9A-Fa-f]+")
_DIGITS = re.compile(rb" *([+-]?) *(\d*)(?:[.,](\d*))? *")
_FLOATS = {
    (2, "big"): ">e", (2, "little"): "<e", (4, "big"): ">f", (4, "little"): "<f",
    (8, "big"): ">d", (8, "little"): "<d",
}  # fmt: skip
_MOST_DECIMALS = 9

# SCPI-1999, volume 1: from here on a number is none; some devices put such numbers into their frames.
_NO_NUMBER = 9.89e37


def number_reader(field: Field, factor: Fraction, plus: Fraction = Fraction(0)) -> Reader:
    """Give what reads a field: its raw number less ``zero``, times ``scale``, in our unit."""
    if field.decimals is not None:
        return _pointed(field, factor, plus)
    slope = field.scale * factor
    constant = plus - field.zero * slope
    if field.encoding == "float":
        return _float(field, float(slope), float(constant))
    if field.encoding == "ascii":
        return _digits(field, slope, constant)
    return _without(field, _scaled(_signed(field), slope, constant))


def _pointed(field: Field, factor: Fraction, plus: Fraction) -> Reader:
    """Give what reads a number whose decimals the frame itself counts."""
    assert field.decimals is not None
    places = whole_number(field.decimals)
    readers = [
        number_reader(replace(field, decimals=None, scale=field.scale / 10**count), factor, plus)
        for count in range(_MOST_DECIMALS + 1)
    ]

    def value(frame: bytes) -> float:
        count = places(frame)
        if count > _MOST_DECIMALS:
            raise RefusedError(f"{count} decimals are too many")
        return readers[count](frame)

    return value


def _scaled(raw: _Whole, slope: Fraction, constant: Fraction) -> Reader:
    """Scale whole numbers; a quotient of whole numbers is the float next to the true value."""
    below = math.lcm(slope.denominator, constant.denominator)
    times, plus = int(slope * below), int(constant * below)
    if plus:
        return lambda frame: (raw(frame) * times + plus) / below
    if times == 1:
        return lambda frame: raw(frame) / below
    return lambda frame: raw(frame) * times / below


def _without(field: Field, reader: Reader) -> Reader:
    """Leave out the codes that mean that there is no value."""
    if not field.no_value:
        return reader
    code, none = whole_number(field.bits), field.no_value
    return lambda frame: math.nan if code(frame) in none else reader(frame)


def _signed(field: Field) -> _Whole:
    raw, bits = whole_number(field.bits), field.bits
    if field.encoding == "bcd":
        raw = _decimal(_swapped(raw) if field.is_swapped else raw)
    elif field.encoding == "digits":
        raw = _unpacked(field)
    elif field.encoding == "hex":
        raw, bits = _hexadecimal(field), Bits(bits.offset, bits.width, mask=(1 << 4 * bits.width) - 1)
    half = 1 << (bits.count - 1)
    if field.sign is not None:
        return _with_sign(raw, field.sign)
    if field.signed == "twos-complement":
        if not bits.mask and field.encoding == "integer" and bits.order in ("big", "little"):
            part, order = slice(bits.offset, bits.offset + bits.width or None), bits.order
            return lambda frame: int.from_bytes(frame[part], order, signed=True)
        return lambda frame: (raw(frame) ^ half) - half
    if field.signed == "sign-bit":
        return lambda frame: number if (number := raw(frame)) < half else half - number
    if field.signed == "offset-binary":
        return lambda frame: raw(frame) - half
    return raw


def _decimal(raw: _Whole) -> _Whole:
    def decimal(frame: bytes) -> int:
        digits = f"{raw(frame):x}"
        if not digits.isdecimal():
            raise RefusedError(f"{digits} holds a digit above nine")
        return int(digits)

    return decimal


_UPPER, _LOWER = int.from_bytes(b"\xf0" * 8), int.from_bytes(b"\x0f" * 8)


def _swapped(raw: _Whole) -> _Whole:
    """Put the halves of each byte the other way round."""

    def swapped(frame: bytes) -> int:
        number = raw(frame)
        return (number & _UPPER) >> 4 | (number & _LOWER) << 4

    return swapped


def _unpacked(field: Field) -> _Whole:
    """Read one decimal digit a byte."""
    part = slice(field.bits.offset, field.bits.offset + field.bits.width or None)
    step = 1 if field.bits.order == "big" else -1

    def number(frame: bytes) -> int:
        digits = frame[part]
        if max(digits) > 9:
            raise RefusedError(f"{digits.hex(' ')} are not digits")
        return int("".join(map(str, digits[::step])))

    return number


def _hexadecimal(field: Field) -> _Whole:
    """Read digits, 0 to F, as text."""
    part = slice(field.bits.offset, field.bits.offset + field.bits.width or None)

    def number(frame: bytes) -> int:
        text = frame[part]
        if _HEX.fullmatch(text) is None:
            raise RefusedError(f"{text!r} is not a number in digits 0 to F")
        return int(text, 16)

    return number


def _with_sign(raw: _Whole, sign: Sign) -> _Whole:
    is_negative = _negative(sign)
    return lambda frame: -raw(frame) if is_negative(frame) else raw(frame)


def _negative(sign: Sign) -> Callable[[bytes], bool]:
    code, negative, positive = whole_number(sign.bits), sign.negative, sign.positive

    def is_negative(frame: bytes) -> bool:
        number = code(frame)
        if number in negative:
            return True
        if positive and number not in positive:
            raise RefusedError(f"sign {number:#04x} is neither plus nor minus")
        return False

    return is_negative


def _digits(field: Field, slope: Fraction, constant: Fraction) -> Reader:
    part = slice(field.bits.offset, field.bits.offset + field.bits.width or None)
    is_negative = _negative(field.sign) if field.sign else None

    def value(frame: bytes) -> float:
        match = _DIGITS.fullmatch(frame[part])
        if match is None or not (match[2] or match[3]):
            raise RefusedError(f"{frame[part]!r} is not a number")
        decimals = match[3] or b""
        number = Fraction(int(match[2] + decimals), 10 ** len(decimals))
        if (match[1] == b"-") != (is_negative is not None and is_negative(frame)):
            number = -number
        return float(number * slope + constant)

    return value


def _float(field: Field, slope: float, constant: float) -> Reader:
    order = field.bits.order
    is_in_words = order in WORD_ORDERS
    form = struct.Struct(_FLOATS[field.bits.width, "big" if is_in_words else order])
    part = slice(field.bits.offset, field.bits.offset + field.bits.width or None)
    is_negative = _negative(field.sign) if field.sign else None

    def value(frame: bytes) -> float:
        data = highest_first(frame[part], order) if is_in_words else frame[part]
        number: float = form.unpack(data)[0]
        if not abs(number) < _NO_NUMBER:
            return _no_number(number)
        if is_negative is not None and is_negative(frame):
            number = -number
        return number * slope + constant

    return value


def _no_number(number: float) -> float:
    """Tell "not a number" from above and below the range."""
    status = decode_scpi_number(repr(number).encode()).status
    if status is Status.ERROR:
        return math.nan
    return math.inf if number > 0 else -math.inf

"""The inside of a frame: its fields, turned into weights and temperatures.

A description is turned into small functions once, so that a frame costs a few microseconds. Whole numbers are
scaled as fractions: 1234 steps of 0.1 g are 123.4 g, and not 123.4 g and a bit.
"""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from drivers.decoders.frame_shapes import RefusedError, whole_number
from drivers.decoders.measurement import Measurement
from drivers.decoders.raw_sensors import COLD_C, RAW_WORDS, RawToValue, SensorSet
from drivers.decoders.scpi import decode_scpi_number
from drivers.decoders.units import UNITS
from drivers.described.description import Bits, Field, Frame, Sign, UnitCode, quantity_of
from drivers.reading import CELSIUS, GRAM, Status, Unit

Reader = Callable[[bytes], float]
"""A frame to a number; NaN and the infinities where there is none."""

_Whole = Callable[[bytes], int]

_UNKNOWN, _STABLE, _MOVING = Status.UNKNOWN, Status.STABLE, Status.MOVING
_TIME_UNITS = {"s": Fraction(1), "ms": Fraction(1, 1000)}
_HEX = re.compile(rb"[0-9A-Fa-f]+")
_DIGITS = re.compile(rb" *([+-]?) *(\d*)(?:\.(\d*))? *")
_FLOATS = {
    (2, "big"): ">e", (2, "little"): "<e", (4, "big"): ">f", (4, "little"): "<f",
    (8, "big"): ">d", (8, "little"): "<d",
}  # fmt: skip
_MOST_DECIMALS = 9

# SCPI-1999, volume 1: from here on a number is none; some devices put such numbers into their frames.
_NO_NUMBER = 9.89e37


class FrameFields:
    """What one kind of frame holds.

    :param frame: its description
    :param sensors: what turns raw signals into g and °C
    """

    def __init__(self, frame: Frame, sensors: SensorSet) -> None:
        by_word = {field.holds: field for field in frame.fields}
        cold = by_word.get(COLD_C)
        self._cold_c = _number(cold, Fraction(1)) if cold else None
        self._device_time = _time_s(by_word["device_time"]) if "device_time" in by_word else None
        self._battery = _battery(by_word.get("battery_percent"))
        self.has_battery = self._battery is not None
        self._status = _status_of(by_word)
        measured = [(field, quantity_of(field.holds)) for field in frame.fields]
        weighs = any(quantity == GRAM for _, quantity in measured)
        self._values: list[tuple[str | None, Unit, Reader, bool]] = [
            (field.channel, quantity, self._reader(field, sensors), quantity == (GRAM if weighs else CELSIUS))
            for field, quantity in measured
            if quantity is not None
        ]

    def measurements(self, frame: bytes) -> tuple[Measurement, ...]:
        """Read a frame that is in order.

        :raises RefusedError: when a field cannot be read
        """
        time_s = self._device_time(frame) if self._device_time is not None else None
        status = self._status(frame) if self._status is not None else _UNKNOWN
        found = []
        for name, unit, read, has_status in self._values:
            value, said = read(frame), status if has_status else _UNKNOWN
            # Compared one by one, and finite as its difference from itself is 0: this runs for every reading.
            if value - value == 0.0 and (said is _UNKNOWN or said is _STABLE or said is _MOVING):
                found.append(Measurement(name, value, unit, said, time_s))
            else:
                found.append(_no_value(name, unit, value, said, time_s))
        return tuple(found)

    def battery_percent(self, frame: bytes) -> int | None:
        """Give the battery's charge, 0 to 100; None where the frame does not hold it."""
        value = self._battery(frame) if self._battery is not None else math.nan
        return round(value) if 0.0 <= value <= 100.0 else None

    def _reader(self, field: Field, sensors: SensorSet) -> Reader:
        if field.holds in RAW_WORDS:
            return self._sensor_reader(field, sensors.of(field.channel).converter(field.holds))
        if isinstance(field.unit, UnitCode):
            return _unit_reader(field, field.unit)
        return _in_unit(field, field.unit)

    def _sensor_reader(self, field: Field, convert: RawToValue) -> Reader:
        raw, cold_c = _number(field, Fraction(1)), self._cold_c

        def value(frame: bytes) -> float:
            signal = raw(frame)
            if not math.isfinite(signal):
                return signal
            return convert(signal, None if cold_c is None else cold_c(frame))

        return value


def _no_value(
    name: str | None, unit: Unit, value: float, status: Status, time_s: float | None
) -> Measurement:
    """Say why there is no value: the device says so, or the number is none."""
    if status.has_value:
        status = Status.ERROR if math.isnan(value) else Status.OVERLOAD if value > 0 else Status.UNDERLOAD
    return Measurement(name, math.nan, unit, status, time_s)


def _in_unit(field: Field, unit: str) -> Reader:
    return _number(field, UNITS[unit].factor, UNITS[unit].plus)


def _unit_reader(field: Field, code: UnitCode) -> Reader:
    """Give what reads a number in the unit that the frame names."""
    unit_code = whole_number(code.bits)
    readers = {number: _in_unit(field, unit) for number, unit in code.units.items()}
    known = ", ".join(f"{number:#04x} {unit}" for number, unit in code.units.items())

    def value(frame: bytes) -> float:
        number = unit_code(frame)
        reader = readers.get(number)
        if reader is None:
            raise RefusedError(f"unit code {number:#04x} is not one of {known}", f"{number:#04x}")
        return reader(frame)

    return value


def _time_s(field: Field) -> Callable[[bytes], float | None]:
    seconds = _number(field, _TIME_UNITS[field.unit if isinstance(field.unit, str) else "s"])

    def time_s(frame: bytes) -> float | None:
        value = seconds(frame)
        return value if math.isfinite(value) else None

    return time_s


def _battery(field: Field | None) -> Reader | None:
    return _number(field, Fraction(1)) if field else None


def _status_of(by_word: dict[str, Field]) -> Callable[[bytes], Status] | None:
    if (field := by_word.get("status")) is not None:
        return _status_reader(field)
    if (field := by_word.get("stable")) is None:
        return None
    code, when = whole_number(field.bits), field.stable_when
    if when:
        return lambda frame: Status.STABLE if code(frame) in when else Status.MOVING
    return lambda frame: Status.STABLE if code(frame) else Status.MOVING


def _status_reader(field: Field) -> Callable[[bytes], Status]:
    code, statuses = whole_number(field.bits), field.statuses

    def status(frame: bytes) -> Status:
        number = code(frame)
        if number not in statuses:
            raise RefusedError(f"status code {number:#04x} is not described")
        return statuses[number]

    return status


# Numbers


def _number(field: Field, factor: Fraction, plus: Fraction = Fraction(0)) -> Reader:
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
        _number(replace(field, decimals=None, scale=field.scale / 10**count), factor, plus)
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
        if not bits.mask and field.encoding == "integer":
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
    form = struct.Struct(_FLOATS[field.bits.width, field.bits.order])
    part = slice(field.bits.offset, field.bits.offset + field.bits.width or None)
    is_negative = _negative(field.sign) if field.sign else None

    def value(frame: bytes) -> float:
        number: float = form.unpack(frame[part])[0]
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

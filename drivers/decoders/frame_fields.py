"""The inside of a frame: its fields, turned into weights and temperatures.

A description is turned into small functions once, so that a frame costs a few microseconds.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

from drivers.decoders.field_numbers import Reader, number_reader
from drivers.decoders.frame_shapes import RefusedError, whole_number
from drivers.decoders.measurement import Measurement
from drivers.decoders.raw_sensors import COLD_C, RAW_WORDS, RawToValue, SensorSet
from drivers.decoders.units import UNITS
from drivers.described.description import Field, Frame, UnitCode, quantity_of
from drivers.reading import CELSIUS, GRAM, Status, Unit

_UNKNOWN, _STABLE, _MOVING = Status.UNKNOWN, Status.STABLE, Status.MOVING
_TIME_UNITS = {"s": Fraction(1), "ms": Fraction(1, 1000)}


class FrameFields:
    """What one kind of frame holds.

    :param frame: its description
    :param sensors: what turns raw signals into g and °C
    """

    def __init__(self, frame: Frame, sensors: SensorSet) -> None:
        by_word = {field.holds: field for field in frame.fields}
        cold = by_word.get(COLD_C)
        self._cold_c = number_reader(cold, Fraction(1)) if cold else None
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
        raw, cold_c = number_reader(field, Fraction(1)), self._cold_c

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
    return number_reader(field, UNITS[unit].factor, UNITS[unit].plus)


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
    seconds = number_reader(field, _TIME_UNITS[field.unit if isinstance(field.unit, str) else "s"])

    def time_s(frame: bytes) -> float | None:
        value = seconds(frame)
        return value if math.isfinite(value) else None

    return time_s


def _battery(field: Field | None) -> Reader | None:
    return number_reader(field, Fraction(1)) if field else None


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

"""Free lines, as a home-made instrument prints them, described by a pattern (see ``pattern``).

``12.3,93.4\\r\\n`` with the pattern ``weight,temperature`` gives 12.3 g and 93.4 °C. Known garblings: a line
without its head (opened in mid-line), two lines run together, lost bytes, ``nan`` or an empty field where
a sensor is unplugged. The whole line must match, so most damage shows; a line that has lost only leading
digits does not, which is why ``leading_number`` exists. Of two lines run together, the second is read where
the lines have a check.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from drivers.decoders.lines import LONGEST_LINE, decode_lines, unreadable
from drivers.decoders.measurement import Decoded, LeadingNumber, Measurement, Rejected
from drivers.decoders.pattern import compile_pattern
from drivers.decoders.pattern_words import SIGN, Field, PatternError
from drivers.decoders.raw_sensors import COLD_C, COUNTS, THERMOCOUPLE_MV, RawToValue, SensorSet
from drivers.reading import CELSIUS, GRAM, Status, Unit

# SCPI-1999, volume 1: 9.91E37 stands for "not a number", 9.9E37 and -9.9E37 for the infinities.
_SCPI_NAN = 9.91e37
_SCPI_INFINITY = 9.9e37

_OF_A_NUMBER = b"0123456789."


@dataclass(frozen=True, slots=True)
class HexDigits:
    """Whole numbers in digits 0 to F.

    :param width: how many digits each has
    :param number: reads them, with their sign
    """

    width: int
    number: Callable[[bytes], float]


class PatternLines:
    """The decoder of lines that follow a pattern.

    :param pattern: ``time_ms,server:weight_g,temperature``
    :param weight: channel name of the first weight that the pattern leaves unnamed; a second gets a 2
    :param temperature: the same for temperatures
    :param sensors: what turns raw signals into g and °C
    :param without_check: takes the check out of a line; None where it is wrong
    :param counts: how ``counts`` are written; None where they are decimals
    :param minus: what a ``sign`` is where the number is below nought; anything else is a plus
    :raises PatternError: with the position at fault
    """

    def __init__(
        self,
        pattern: str,
        weight: str | None = None,
        temperature: str | None = None,
        sensors: SensorSet | None = None,
        without_check: Callable[[bytes], bytes | None] | None = None,
        counts: HexDigits | None = None,
        minus: str = "-",
    ) -> None:
        self.pattern = compile_pattern(pattern, counts.width if counts else 0)
        self._counts: Callable[[bytes], float] = counts.number if counts else float
        self._match, self._without_check = self.pattern.expression.fullmatch, without_check
        names = _channel_names(self.pattern.fields, {GRAM: weight, CELSIUS: temperature})
        self._values: list[tuple[int, str | None, Unit, Field, RawToValue | None]] = []
        self._clock: tuple[int, Field] | None = None
        self._sign_group: int | None = None
        self._minus = minus.encode()
        self._cold_group: int | None = None
        self.steps: dict[str, float] = {}
        """The step of each named channel, g, where it is known: one count of a load cell."""
        sensors = sensors or SensorSet()
        converters = _converters(self.pattern.fields, sensors)
        for group, (field, name, convert) in enumerate(
            zip(self.pattern.fields, names, converters, strict=True)
        ):
            if field.kind.unit == "s":
                self._clock = group, field
            if field.kind.sensor == COLD_C:
                self._cold_group = group
            if field.kind.unit == SIGN:
                self._sign_group = group
            step_g = sensors.of(field.channel).step_g if field.kind.sensor == COUNTS else None
            if name is not None and step_g is not None:
                self.steps[name] = step_g
            if field.is_measured:
                self._values.append(
                    (group, name, GRAM if field.kind.unit == GRAM else CELSIUS, field, convert)
                )

    def decode(self, data: bytes) -> Decoded:
        """Decode all complete lines."""
        return decode_lines(data, self._read, self._rejected)

    def reads(self, line: bytes) -> bool:
        """Say whether a line without its end follows the pattern, and its check is right."""
        return self._matched(line) is not None

    def leading_number(self, line: bytes) -> LeadingNumber | None:
        """Give the number that a line begins with; a blank, a sign or a literal before it guards it."""
        match = self._matched(line)
        if match is None or not self.pattern.leads_with_field or match.start(1) or line[:1] in b"+-":
            return None
        return LeadingNumber(match[1], self.pattern.fields[0].kind.unit == "s")

    def _matched(self, line: bytes) -> re.Match[bytes] | None:
        if len(line) > LONGEST_LINE:
            return None
        if self._without_check is None:
            return self._match(line)
        text = self._without_check(line)
        return None if text is None else self._match(text)

    def _matched_behind(self, line: bytes) -> re.Match[bytes] | None:
        """Match what stands whole behind a line that has lost its end.

        A check alone tells where it begins; what would leave off digits or a sign of a number is not tried.
        """
        if self._without_check is None or len(line) > LONGEST_LINE:
            return None
        begins = (first for first in range(1, len(line)) if not _splits_number(line, first))
        return next(filter(None, (self._matched(line[first:]) for first in begins)), None)

    def _rejected(self, line: bytes) -> Rejected:
        if self._without_check is not None and self._without_check(line) is None:
            return unreadable(line, "its checksum is wrong")
        return unreadable(line, "it does not follow the pattern")

    def _raw(self, text: bytes, field: Field) -> float:
        return self._counts(text) if field.kind.sensor == COUNTS else float(text)

    def _read(self, line: bytes) -> list[Measurement] | None:
        match = self._matched(line) or self._matched_behind(line)
        if match is None:
            return None
        found: list[Measurement] = []
        # A sign may stand before the blanks that pad a number.
        texts = [text.translate(None, b" \t") for text in match.groups()]
        device_time_s = None
        if self._clock is not None:
            device_time_s = _clock_s(texts[self._clock[0]], self._clock[1])
        cold_c = None if self._cold_group is None else _number(texts[self._cold_group])
        is_negative = self._sign_group is not None and texts[self._sign_group] == self._minus
        for group, name, unit, field, convert in self._values:
            text = b"-" + texts[group].lstrip(b"+-") if is_negative and texts[group] else texts[group]
            raw = self._raw(text, field) if text else math.nan
            if not -_SCPI_INFINITY < raw < _SCPI_INFINITY:
                value, status = math.nan, _status_of(raw)
            elif convert is None:
                value, status = field.kind.convert(text), Status.UNKNOWN
            else:
                value = convert(raw, cold_c)
                status = Status.ERROR if math.isnan(value) else Status.UNKNOWN
            found.append(Measurement(name, value, unit, status, device_time_s))
        return found


def _splits_number(line: bytes, first: int) -> bool:
    """Say whether what begins somewhere in a line leaves off a number's first digits, or its sign."""
    if line[:first].rstrip(b" ").endswith((b"+", b"-")):
        return True
    return line[first] in _OF_A_NUMBER and line[first - 1] in _OF_A_NUMBER


def _converters(fields: tuple[Field, ...], sensors: SensorSet) -> list[RawToValue | None]:
    """Give what turns each field's raw signal into g or °C; None where the field is none.

    :raises PatternError: where what is needed for that is missing or impossible
    """
    has_cold = any(field.kind.sensor == COLD_C for field in fields)
    converters: list[RawToValue | None] = []
    for field in fields:
        if field.kind.sensor in ("", COLD_C):
            converters.append(None)
            continue
        sensor = sensors.of(field.channel)
        if (missing := sensor.missing(field.kind.sensor, has_cold)) is not None:
            raise PatternError(field.position, f"{missing[0]}; give it, as {missing[1]}")
        try:
            converters.append(sensor.converter(field.kind.sensor))
        except ValueError as error:
            raise PatternError(field.position, str(error)) from error
    if has_cold and not any(field.kind.sensor == THERMOCOUPLE_MV for field in fields):
        position = next(field.position for field in fields if field.kind.sensor == COLD_C)
        raise PatternError(position, "there is no thermocouple_mv that this cold_c belongs to")
    return converters


def _number(text: bytes) -> float:
    """Read a number that must be one; NaN where it is none, or SCPI's word for none."""
    value = float(text) if text else math.nan
    return value if -_SCPI_INFINITY < value < _SCPI_INFINITY else math.nan


def _status_of(raw: float) -> Status:
    if math.isnan(raw) or math.isclose(raw, _SCPI_NAN, rel_tol=1e-4):
        return Status.ERROR
    return Status.OVERLOAD if raw > 0 else Status.UNDERLOAD


def _clock_s(text: bytes, field: Field) -> float | None:
    value = field.kind.convert(text) if text else math.nan
    return value if math.isfinite(value) else None


def _channel_names(fields: tuple[Field, ...], first: dict[str, str | None]) -> list[str | None]:
    taken = {field.channel for field in fields}
    names: list[str | None] = []
    for field in fields:
        name = field.channel
        if name is None and field.is_measured and (base := first.get(field.kind.unit)) is not None:
            name = _next_free(base, taken)
            taken.add(name)
        names.append(name)
    return names


def _next_free(base: str, taken: set[str | None]) -> str:
    if base not in taken:
        return base
    number = 2
    while f"{base[:30]}{number}" in taken:
        number += 1
    return f"{base[:30]}{number}"

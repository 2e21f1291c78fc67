"""Lines of numbers as SCPI instruments answer them, one or several a line, of one quantity.

``+2.314E+01\\r\\n`` is 23.14 °C; ``23.1,24.0\\r\\n`` fills two channels, the second called like the first
with a 2 behind it. A line that holds anything but numbers and SCPI's words for none (an error message, the
instrument's name) is not read.
"""

from __future__ import annotations

import math

from drivers.decoders.lines import LONGEST_LINE, decode_lines, unreadable
from drivers.decoders.measurement import Decoded, LeadingNumber, Measurement, Rejected
from drivers.decoders.scpi import ScpiNumber, decode_scpi_numbers
from drivers.decoders.units import UNITS

_MOST_NUMBERS = 32


class ScpiLines:
    """The decoder of SCPI answers.

    :param unit: a key of ``UNITS``
    :param name: channel of the first number; None where the user names it
    """

    def __init__(self, unit: str, name: str | None = None) -> None:
        self._unit = UNITS[unit]
        self._factor, self._plus = float(self._unit.factor), float(self._unit.plus)
        self._name = name

    def decode(self, data: bytes) -> Decoded:
        """Decode all complete lines."""
        return decode_lines(data, self._read, _rejected)

    def leading_number(self, line: bytes) -> LeadingNumber | None:
        """Give the number that a line begins with; a blank or a sign before it guards it."""
        if line[:1] in b" \t+-" or not _numbers(line):
            return None
        return LeadingNumber(line.partition(b",")[0].strip())

    def _read(self, line: bytes) -> list[Measurement] | None:
        return [self._measurement(place, number) for place, number in enumerate(_numbers(line))] or None

    def _measurement(self, place: int, number: ScpiNumber) -> Measurement:
        if number.value is None:
            return Measurement(self._channel(place), math.nan, self._unit.unit, number.status)
        value = number.value * self._factor + self._plus
        return Measurement(self._channel(place), value, self._unit.unit, number.status)

    def _channel(self, place: int) -> str | None:
        return self._name if self._name is None or place == 0 else f"{self._name[:29]}{place + 1}"


def _rejected(line: bytes) -> Rejected:
    return unreadable(line, "it is not a list of numbers")


def _numbers(line: bytes) -> tuple[ScpiNumber, ...]:
    """Read a line's numbers; none where something in it is no number."""
    if len(line) > LONGEST_LINE:
        return ()
    numbers = decode_scpi_numbers(line)
    parts = line.split(b",")
    if len(numbers) > _MOST_NUMBERS or not all(map(_is_readable, parts, numbers)):
        return ()
    return numbers


def _is_readable(part: bytes, number: ScpiNumber) -> bool:
    """Tell a word for "no value" from what is no number at all."""
    if number.value is not None:
        return True
    word = b"".join(part.split())
    try:
        float(word)
    except ValueError:
        return word.upper() == b"NINF"
    return True

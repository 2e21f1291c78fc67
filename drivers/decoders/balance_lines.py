"""Status-prefixed lines, as laboratory and shop balances print them: common practice, no single standard.

::

    ST,GS,+  123.4 g\\r\\n
    |  |  |        `- unit: g, kg, oz, lb, any case
    |  |  `---------- value: sign, padding by blanks or zeros, digits
    |  `------------- NT net, GS gross, TR the tare that is set (no weight reading); may be missing
    `---------------- ST stable, US moving, OL overload, UL underload

Commas, semicolons and blanks separate. Known garblings: a line without its head (opened in mid-line), two
lines run together, control characters around the line, noise before the header. A whole frame at the end
of a line is read all the same; a line without header never is.
"""

from __future__ import annotations

import math
import re

from drivers.decoders.lines import LONGEST_LINE, decode_lines, unreadable
from drivers.decoders.measurement import Decoded, LeadingNumber, Measurement, Rejected, printable
from drivers.reading import GRAM, Status

# International avoirdupois pound, exactly 453.59237 g; an ounce is its sixteenth (NIST SP 811, B.8).
LB_G = 453.59237
OZ_G = LB_G / 16

_HEADER = rb"(?:[,; \t]*+(NT|GS|TR)(?![A-Za-z]))?+[,; \t]*+"
_WEIGHT = re.compile(
    rb"(ST|US)" + _HEADER + rb"([+-]?)[ \t]*(\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})"
    rb"[ \t]*([A-Za-z%]{0,8})[\x00-\x20]*\Z"
)
_OUT_OF_RANGE = re.compile(rb"(OL|UL)" + _HEADER + rb"[-+\d. \t]{0,24}([A-Za-z%]{0,8})[\x00-\x20]*\Z")
_AFTER_NOISE = re.compile(rb"(?<![A-Za-z])(?:ST|US|OL|UL)(?![A-Za-z])")

_UNITS = {b"g": 1.0, b"kg": 1000.0, b"oz": OZ_G, b"lb": LB_G}
_STATUS = {b"ST": Status.STABLE, b"US": Status.MOVING, b"OL": Status.OVERLOAD, b"UL": Status.UNDERLOAD}


class BalanceLines:
    """The decoder of balance lines."""

    def decode(self, data: bytes) -> Decoded:
        """Decode all complete lines."""
        return decode_lines(data, _read, _rejected)

    def leading_number(self, line: bytes) -> LeadingNumber | None:
        """Give none: a line that has lost its header is not read."""
        return None


def _read(line: bytes) -> tuple[Measurement, ...] | None:
    match = _frame(line)
    if match is None:
        return None
    if (measurement := _measurement(match)) is not None:
        return (measurement,)
    return () if match[2] == b"TR" else None


def _frame(line: bytes) -> re.Match[bytes] | None:
    if match := _WEIGHT.match(line):
        return match if len(line) <= LONGEST_LINE else None
    if len(line) > LONGEST_LINE:
        return None
    for header in reversed(list(_AFTER_NOISE.finditer(line))):
        tail = line[header.start() :]
        if match := _WEIGHT.match(tail) or _OUT_OF_RANGE.match(tail):
            return match
    return None


def _measurement(match: re.Match[bytes]) -> Measurement | None:
    if match.re is _OUT_OF_RANGE:
        return None if match[2] == b"TR" else Measurement(None, math.nan, GRAM, _STATUS[match[1]])
    header, kind, sign, digits, unit_text = match.groups()
    unit = unit_text.lower()
    if kind == b"TR" or unit not in _UNITS:
        return None
    # The decimal point is moved in the text: 0.0123 kg is 12.3 g, and not 12.299999999999999.
    value = float(digits + b"e3") if unit == b"kg" else float(digits) * _UNITS[unit]
    return Measurement(None, 0.0 - value if sign == b"-" else value, GRAM, _STATUS[header])


def _rejected(line: bytes) -> Rejected:
    match = _frame(line)
    if match is None:
        return unreadable(line, "it does not begin with ST, US, OL or UL and go on with a weight")
    unit = match[5].decode("ascii")
    known = ", ".join(name.decode("ascii") for name in _UNITS)
    why = f"unit {unit!r} is not one of {known}" if unit else f"it has no unit ({known})"
    return Rejected(printable(line), why, unit)

"""Numbers as measuring instruments answer them: IEEE 488.2 NR1, NR2 and NR3, and what SCPI-1999 adds.

::

    +146          NR1: an integer
    12.3          NR2: an explicit point
    -2.73E+2      NR3: with an exponent
    9.91E37       SCPI: not a number;  9.9E37 and -9.9E37: above and below the range

The last are perfectly good numbers to any other reader and must never become a temperature. Values of a
list are separated by commas. A device that is lax about blanks or writes ``.5`` is understood.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from drivers.decoders.measurement import printable
from drivers.reading import Status

_NUMBER = re.compile(rb"[+-]?(?:\d++(?:\.\d*+)?+|\.\d++)(?:[ \t]*+[Ee][ \t]*+[+-]?+\d{1,5})?+")
_LONGEST = 64

# Instruments that calculate in single precision print 9.90000022E+37 and the like.
_NAN, _INFINITY = 9.91e37, 9.9e37
_RELATIVE_TOLERANCE = 1e-6
_WORDS = {b"NAN": math.nan, b"INF": math.inf, b"+INF": math.inf, b"-INF": -math.inf, b"NINF": -math.inf}


@dataclass(frozen=True, slots=True)
class ScpiNumber:
    """One number of an answer.

    :param value: None where there is none
    :param status: what that says of the measurement: error, overload, underload
    :param why: why there is none, a clause; empty where there is one
    """

    value: float | None
    status: Status = Status.UNKNOWN
    why: str = ""


def decode_scpi_number(text: bytes) -> ScpiNumber:
    """Read one number, blanks and line end around it allowed."""
    text = text.strip()
    if len(text) <= _LONGEST and _NUMBER.fullmatch(text):
        return _judged(float(b"".join(text.split())))
    if (word := _WORDS.get(text.upper())) is not None:
        return _judged(word)
    if not text:
        return ScpiNumber(None, Status.ERROR, "the answer is empty")
    return ScpiNumber(None, Status.ERROR, f"{printable(text)!r} is not a number")


def decode_scpi_numbers(text: bytes) -> tuple[ScpiNumber, ...]:
    """Read numbers separated by commas."""
    return tuple(decode_scpi_number(part) for part in text.split(b","))


def _judged(value: float) -> ScpiNumber:
    if math.isnan(value) or math.isclose(abs(value), _NAN, rel_tol=_RELATIVE_TOLERANCE):
        return ScpiNumber(None, Status.ERROR, "the instrument has no valid value")
    if abs(value) < _INFINITY * (1 - _RELATIVE_TOLERANCE):
        return ScpiNumber(value)
    if value > 0:
        return ScpiNumber(None, Status.OVERLOAD, "the value is above the instrument's range")
    return ScpiNumber(None, Status.UNDERLOAD, "the value is below the instrument's range")

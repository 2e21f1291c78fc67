"""Times as brewers write them: ``0:45``, ``1:02.5``, or plain seconds."""

from __future__ import annotations

import math
import re

_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d(?:\.\d+)?)")


def clock_s(value: object) -> float:
    """Read a time as seconds.

    :param value: ``"m:ss"``, ``"m:ss.s"``, or a number of seconds
    :raises ValueError: when it is neither, or negative
    """
    if isinstance(value, str) and (match := _CLOCK.fullmatch(value.strip())):
        return 60.0 * int(match[1]) + float(match[2])
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and value >= 0:
        return float(value)
    raise ValueError(f'{value!r} is not a time: write "0:45" or a number of seconds')


def clock_text(seconds: float) -> str:
    """Write seconds as brewers do: ``0:45``; negative times keep their sign."""
    sign, whole = ("-" if seconds < -0.5 else ""), round(abs(seconds))
    return f"{sign}{whole // 60}:{whole % 60:02d}"

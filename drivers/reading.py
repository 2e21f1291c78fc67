"""A reading: one value of one channel at one time, and how it stands as a line of a journal.

The line is the recorder's and the playback driver's common ground, so both halves stand here.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

Unit = Literal["g", "°C"]

GRAM: Unit = "g"
CELSIUS: Unit = "°C"

_CHANNEL = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}")

JOURNAL_HEADER = "time_s,channel,value,unit,status,device_time_s"


class Status(StrEnum):
    """What the device itself says of a value."""

    UNKNOWN = ""
    STABLE = "stable"
    MOVING = "moving"
    OVERLOAD = "overload"
    UNDERLOAD = "underload"
    ERROR = "error"
    LOST = "lost"

    @property
    def has_value(self) -> bool:
        """Whether a value of this status may be used as a measurement."""
        return self in (Status.UNKNOWN, Status.STABLE, Status.MOVING)


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one channel.

    :param channel: what is measured for this brew: ``scale``, ``server``, ``kettle`` ...
    :param time_s: arrival on the host's monotonic clock, seconds
    :param value: weight in g or temperature in °C; NaN where the status says that there is none
    :param unit: ``g`` or ``°C``; drivers convert, nobody else
    :param status: what the device says of the value
    :param device_time_s: the device's own clock, seconds, where it has one
    """

    channel: str
    time_s: float
    value: float
    unit: Unit
    status: Status = Status.UNKNOWN
    device_time_s: float | None = None


def is_channel_name(name: str) -> bool:
    """Say whether a name may be used for a channel: letters, digits, ``-`` and ``_``, at most 32."""
    return _CHANNEL.fullmatch(name) is not None


def journal_line(reading: Reading, origin_s: float = 0.0) -> str:
    """Write a reading as one line of a journal, times counted from ``origin_s``, without line end."""
    value = "" if math.isnan(reading.value) else repr(reading.value)
    device_time = "" if reading.device_time_s is None else repr(reading.device_time_s)
    time_s = round(reading.time_s - origin_s, 6)
    return f"{time_s!r},{reading.channel},{value},{reading.unit},{reading.status.value},{device_time}"


def parse_journal_line(line: str) -> Reading:
    """Read a line that :func:`journal_line` wrote.

    :raises ValueError: when the line is not one, with the field that is wrong
    """
    fields = line.split(",")
    if len(fields) != 6:
        raise ValueError(f"{len(fields)} fields where 6 are expected")
    time_text, channel, value_text, unit, status_text, device_time_text = fields
    if not is_channel_name(channel):
        raise ValueError(f"channel {channel!r} is not a name")
    if unit not in (GRAM, CELSIUS):
        raise ValueError(f"unit {unit!r} is neither g nor °C")
    try:
        status = Status(status_text)
    except ValueError:
        raise ValueError(f"status {status_text!r} is unknown") from None
    time_s = _number("time_s", time_text)
    value = _number("value", value_text) if value_text else math.nan
    device_time_s = _number("device_time_s", device_time_text) if device_time_text else None
    return Reading(channel, time_s, value, GRAM if unit == GRAM else CELSIUS, status, device_time_s)


def _number(field: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"{field} {text!r} is not a number") from None
    if not math.isfinite(value):
        raise ValueError(f"{field} {text!r} is not finite")
    return value

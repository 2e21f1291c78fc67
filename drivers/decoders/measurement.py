"""What a decoder makes of bytes: measurements, not yet readings.

A decoder knows neither the clock nor what the channels are called in this brew, so its measurements carry
no arrival time and a name only where the line itself gives one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from drivers.reading import Status, Unit

_SHOWN_CHARACTERS = 60


@dataclass(frozen=True, slots=True)
class Measurement:
    """One value as a device sent it, in g or °C.

    :param name: channel name given by the line's pattern; None where the user names the channel
    :param value: weight in g or temperature in °C; NaN where the status says that there is none
    :param device_time_s: the device's own clock, seconds, where the line holds it
    """

    name: str | None
    value: float
    unit: Unit
    status: Status = Status.UNKNOWN
    device_time_s: float | None = None


@dataclass(frozen=True, slots=True)
class Rejected:
    """A line that gave no measurement.

    :param text: the line, fit for printing
    :param why: a clause for the user
    :param unknown_unit: the unit, where it was the only thing wrong
    """

    text: str
    why: str
    unknown_unit: str | None = None


@dataclass(frozen=True, slots=True)
class Decoded:
    """What was found in a run of bytes.

    :param used: how many bytes need not be seen again; the rest is the beginning of a line
    :param measurements: in the order of the bytes
    :param lines: lines that were understood, also those that hold no weight reading
    :param rejected: lines that were not
    :param last_rejected: the last of them
    :param battery_percent: the charge of the device's battery, where it was among the bytes
    """

    used: int
    measurements: tuple[Measurement, ...] = ()
    lines: int = 0
    rejected: int = 0
    last_rejected: Rejected | None = None
    battery_percent: int | None = None


@dataclass(frozen=True, slots=True)
class LeadingNumber:
    """The number a line begins with, which may have lost digits when the port was opened in mid-line.

    :param text: as sent, without blanks
    :param is_clock: whether it grows from line to line by itself
    """

    text: bytes
    is_clock: bool = False


class Decoder(Protocol):
    """Bytes to measurements: pure, never raises, the same result however the bytes were cut in pieces."""

    def decode(self, data: bytes) -> Decoded:
        """Decode all complete lines.

        :param data: bytes from the first that an earlier call has not used
        """

    def leading_number(self, line: bytes) -> LeadingNumber | None:
        """Give the number that a line begins with, if a line that lost its head could pass for a whole one.

        None where it could not, because the line must begin with something else, and where the line is
        not readable.
        """


def printable(line: bytes) -> str:
    """Write a line so that it fits in a message: no control characters, the end kept where it is long."""
    text = line.decode("ascii", "backslashreplace")
    text = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text).strip()
    return text if len(text) <= _SHOWN_CHARACTERS else "…" + text[-_SHOWN_CHARACTERS:]

"""``sampling.csv``: when each reading was taken, beside ``readings.csv`` that says when it arrived.

Worked out from the arrivals (and the device's own clock, where it has one) when a recording is closed; one
line for each line of ``readings.csv``, in the same order. The arrivals are never touched.
"""

from __future__ import annotations

import logging
import math
from array import array
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from drivers.reading import Reading
from logger.recording.descriptor import SAMPLING, SAMPLING_FIELD, digest
from logger.recording.disk import replacing
from logger.recording.journal import READINGS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SamplingTimes = Callable[["Floats", "Floats | None"], "Floats"]
"""Gives the times at which a channel's readings were taken, from their arrivals and the device's clock."""

log = logging.getLogger(__name__)


class Arrivals:
    """The arrivals of a recording, by channel, kept until it is closed."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self._channel = array("H")
        self._arrival = array("d")
        self._device = array("d")

    def note(self, reading: Reading) -> None:
        """Keep one reading's times."""
        self._channel.append(self._numbers.setdefault(reading.channel, len(self._numbers)))
        self._arrival.append(reading.time_s)
        self._device.append(math.nan if reading.device_time_s is None else reading.device_time_s)

    def taken(self, sampling_times: SamplingTimes) -> Floats:
        """Work out all times, in the order of the readings; shape (n,)."""
        import numpy as np

        channel, arrival = np.frombuffer(self._channel, np.uint16), np.frombuffer(self._arrival)
        device = np.frombuffer(self._device)
        taken = arrival.copy()
        for number in self._numbers.values():
            own = np.flatnonzero(channel == number)
            # Lines of a lost link and of different devices are not in order; what cannot be, stays.
            if np.any(np.diff(arrival[own]) < 0):
                continue
            clock = device[own] if np.isfinite(device[own]).all() else None
            taken[own] = sampling_times(arrival[own], clock)
        return taken


def write_sampling(folder: Path, arrivals: Arrivals, sampling_times: SamplingTimes) -> bytes | None:
    """Write ``sampling.csv``, whole or not at all.

    :returns: what was written; None where the times could not be worked out
    :raises FailureError: when the disk refuses
    """
    try:
        taken = arrivals.taken(sampling_times)
    except Exception as error:
        # A brew must be closed whatever the arithmetic does; the arrivals are all there.
        log.error("%s: when the readings were taken could not be worked out", folder, exc_info=error)
        return None
    lines = "\n".join([SAMPLING_FIELD, *(repr(round(float(time_s), 6)) for time_s in taken), ""])
    with replacing(folder / SAMPLING) as part:
        part.write_bytes(lines.encode("ascii"))
    return lines.encode("ascii")


def read_sampling(
    folder: Path, count: int, listed: tuple[int | None, str | None] | None
) -> tuple[Floats | None, str]:
    """Read ``sampling.csv``.

    :param count: how many readings there are
    :param listed: the size and hash that the descriptor gives it; None where it does not list the file
    :returns: the times, shape (count,), None where they cannot be used; and why they cannot although the
        file is listed, or ""
    """
    try:
        data = (folder / SAMPLING).read_bytes()
    except FileNotFoundError:
        return None, "" if listed is None else f"{SAMPLING} is missing"
    except OSError as error:
        return None, "" if listed is None else f"{SAMPLING} cannot be read: {error.strerror}"
    if listed is None:
        return _times(data, count), ""
    size, known_digest = listed
    if size not in (None, len(data)) or known_digest not in (None, digest(data)):
        return None, f"{SAMPLING} has changed since the recording was closed"
    times = _times(data, count)
    return times, "" if times is not None else f"{SAMPLING} does not fit {READINGS}"


def _times(data: bytes, count: int) -> Floats | None:
    """Read the lines, where they are a time for each reading."""
    import numpy as np

    try:
        lines = data.decode("ascii").split()
        times = np.array([float(line) for line in lines[1:]])
    except ValueError:
        return None
    fits = lines[:1] == [SAMPLING_FIELD] and times.size == count and bool(np.isfinite(times).all())
    return times if fits else None

"""Lines to readings: the state between pure decoders and whatever brings the bytes.

Keeps the beginning of a line until its rest comes, settles what to do with the first line after opening,
gives unnamed measurements the names of this brew, and counts what could not be read. Time comes in as an
argument, so a whole evening of it can be tested in a moment.
"""

from __future__ import annotations

from drivers.decoders.first_line import FirstLine, judge_first_line
from drivers.decoders.lines import split_lines
from drivers.decoders.measurement import Decoded, Decoder, Measurement, Rejected
from drivers.reading import GRAM, Reading

HOLD_S = 2.0
"""How long a first line waits for a second to be compared with. A device that is silent for longer sends
seldom, and then it is unlikely that the port was opened in mid-line."""

GARBAGE_S = 5.0
"""How long bytes may arrive after opening with no line that can be read."""


class LineReader:
    """Bytes with their arrival times to readings.

    :param decoder: for the shape of line that the device sends
    :param weight: channel name of unnamed weights
    :param temperature: channel name of unnamed temperatures
    :param may_begin_cut: whether the first line after opening may have lost its head: not where the device
        answers requests, and not where it sends frames
    """

    def __init__(
        self, decoder: Decoder, weight: str, temperature: str, *, may_begin_cut: bool = True
    ) -> None:
        self._decoder, self._weight, self._temperature = decoder, weight, temperature
        self._may_begin_cut = may_begin_cut
        self.bytes = 0
        self.lines = 0
        self.rejected = 0
        self.last_rejected: Rejected | None = None
        self.first_line_cut = False
        self.battery_percent: int | None = None
        self.begin()

    def begin(self) -> None:
        """Forget what the link before this one left unfinished; what has been counted stays."""
        self._buffer = b""
        # Chunks, until the first line is settled.
        self._opening: list[tuple[float, bytes]] | None = [] if self._may_begin_cut else None
        self._held_since_s: float | None = None
        self._first_byte_s: float | None = None
        self._bytes_before, self._rejected_before, self._lines_before = self.bytes, self.rejected, self.lines

    def push(self, time_s: float, data: bytes) -> list[Reading]:
        """Take bytes and give what has become readable.

        :param time_s: when the bytes arrived
        """
        if self._first_byte_s is None:
            self._first_byte_s = time_s
        self.bytes += len(data)
        if self._opening is None:
            return self._decode(time_s, data)
        self._opening.append((time_s, data))
        if self.release_at_s is not None and time_s >= self.release_at_s:
            return self.release()
        return self._settle(time_s, self._opening)

    @property
    def release_at_s(self) -> float | None:
        """When :meth:`release` is due, because a first line waits for a second; None where none waits."""
        return None if self._held_since_s is None else self._held_since_s + HOLD_S

    def release(self) -> list[Reading]:
        """Stop waiting for a second line: give the first one as it stands."""
        if self._held_since_s is None or self._opening is None:
            return []
        return self._open(self._opening, skipped=0)

    def release_due(self, time_s: float) -> list[Reading]:
        """Give a first line that has waited long enough."""
        if self.release_at_s is None or time_s < self.release_at_s:
            return []
        return self.release()

    def garbage_only(self, time_s: float) -> bool:
        """Say whether bytes have been arriving since opening for too long with no line that can be read."""
        if self._first_byte_s is None or time_s - self._first_byte_s < GARBAGE_S:
            return False
        if self.lines > self._lines_before:
            return False
        # A device that sends seldom, opened in mid-line, is no garbage: it takes more than one bad line.
        return self.rejected > self._rejected_before or self.bytes > self._bytes_before + 512

    def facts(self) -> dict[str, object]:
        """Give the counts, for the recording."""
        last = self.last_rejected
        return {
            "bytes": self.bytes,
            "lines_read": self.lines,
            "lines_rejected": self.rejected,
            "last_rejected": f"{last.text} ({last.why})" if last else "",
            "first_line_cut": self.first_line_cut,
        }

    def _settle(self, time_s: float, chunks: list[tuple[float, bytes]]) -> list[Reading]:
        data = b"".join(chunk for _, chunk in chunks)
        used, lines = split_lines(data)
        if not lines:
            chunks[:] = [(time_s, data[used:])]
            return []
        verdict = judge_first_line(self._decoder, lines[0], lines[1:])
        if verdict is FirstLine.UNDECIDED:
            self._held_since_s = time_s if self._held_since_s is None else self._held_since_s
            return []
        self.first_line_cut = verdict is FirstLine.CUT
        return self._open(chunks, data.index(lines[0]) + len(lines[0]) if self.first_line_cut else 0)

    def _open(self, chunks: list[tuple[float, bytes]], skipped: int) -> list[Reading]:
        """Decode what was held back, each chunk with its own arrival time."""
        self._opening, self._held_since_s = None, None
        readings: list[Reading] = []
        for time_s, chunk in chunks:
            readings += self._decode(time_s, chunk[skipped:])
            skipped = max(0, skipped - len(chunk))
        return readings

    def _decode(self, time_s: float, data: bytes) -> list[Reading]:
        data = self._buffer + data
        decoded = self._decoder.decode(data)
        self._buffer = data[decoded.used :]
        return self._readings(decoded, time_s)

    def _readings(self, decoded: Decoded, time_s: float) -> list[Reading]:
        self.lines += decoded.lines
        if decoded.battery_percent is not None:
            self.battery_percent = decoded.battery_percent
        if decoded.last_rejected is not None:
            self.rejected += decoded.rejected
            self.last_rejected = decoded.last_rejected
        return [self._reading(measurement, time_s) for measurement in decoded.measurements]

    def _reading(self, one: Measurement, time_s: float) -> Reading:
        name = one.name or (self._weight if one.unit == GRAM else self._temperature)
        return Reading(name, time_s, one.value, one.unit, one.status, one.device_time_s)

"""The journal: readings as lines of a file that is only ever appended to.

Each line is handed to the operating system at once, so that a killed process loses nothing that was
appended. :meth:`Journal.sync` brings it to the disk itself, against a power cut.
"""

from __future__ import annotations

import contextlib
import math
import os
import threading
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self

from drivers.reading import JOURNAL_HEADER, Reading, Status, is_channel_name, journal_line
from logger.errors import FailureError
from logger.recording.disk import refusal, sync_folder

READINGS = "readings.csv"


class Journal:
    """A new file of readings, open for appending.

    :param path: must not exist yet: a journal never writes into an existing file
    :raises FailureError: when the file exists or the disk refuses
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.size = 0
        self._synced = 0
        self._lock = threading.Lock()
        self._known_channels: set[str] = set()
        try:
            # Unbuffered: nothing may wait inside this process.
            self._file = path.open("xb", buffering=0)
        except FileExistsError as error:
            raise FailureError(
                str(path), "exists already", "A recording is never written over: choose another folder."
            ) from error
        except OSError as error:
            raise refusal(path, "create the journal", error) from error
        try:
            self._write(f"{JOURNAL_HEADER}\n")
        except FailureError:
            self._file.close()
            path.unlink(missing_ok=True)
            raise
        sync_folder(path.parent)

    def append(self, reading: Reading) -> None:
        """Hand one reading to the operating system, as one whole line.

        An infinite value is no measurement: it is written as a line without value, status ``error``.

        :raises FailureError: when the disk refuses; the file then ends with the line before
        :raises ValueError: when the reading could never be read back (a driver's fault)
        """
        if reading.channel not in self._known_channels:
            if not is_channel_name(reading.channel):
                raise ValueError(f"channel {reading.channel!r} is not a name")
            self._known_channels.add(reading.channel)
        if not math.isfinite(reading.time_s):
            raise ValueError(f"time {reading.time_s!r} of channel {reading.channel} is not a time")
        self._write(journal_line(_writable(reading)) + "\n")

    def sync(self) -> None:
        """Wait until all that was appended is on the disk. May be called from another thread.

        :raises FailureError: when the disk refuses
        """
        with self._lock:
            size = self.size
            if self._file.closed or size == self._synced:
                return
            try:
                os.fsync(self._file.fileno())
            except OSError as error:
                raise refusal(self.path, "bring the readings to the disk", error) from error
            self._synced = size

    def close(self) -> None:
        """Sync and close; a second call does nothing.

        :raises FailureError: when the disk refuses the last readings; the file is closed all the same
        """
        try:
            self.sync()
        finally:
            with self._lock:
                self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _write(self, text: str) -> None:
        data = text.encode()
        written = 0
        try:
            while written < len(data):
                written += self._file.write(data[written:]) or 0
        except OSError as error:
            self._drop_torn_line()
            raise refusal(self.path, "write the reading", error) from error
        self.size += len(data)

    def _drop_torn_line(self) -> None:
        # A disk that refuses this too leaves a torn last line, which every reader drops.
        with contextlib.suppress(OSError):
            self._file.truncate(self.size)
            self._file.seek(self.size)


def _writable(reading: Reading) -> Reading:
    device_time_s = reading.device_time_s
    if device_time_s is not None:
        device_time_s = float(device_time_s) if math.isfinite(device_time_s) else None
    value = float(reading.value)
    if math.isinf(value):
        return replace(reading, value=math.nan, status=Status.ERROR, device_time_s=device_time_s)
    # float(): a driver's numpy number would be written with its type's name.
    return replace(reading, time_s=float(reading.time_s), value=value, device_time_s=device_time_s)

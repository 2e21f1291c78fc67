"""A recording: all readings of one brew, with what was known about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drivers.clock import clock_text
from drivers.reading import GRAM, Status
from logger.errors import BadInputError
from logger.recording.descriptor import DESCRIPTOR, SAMPLING, Descriptor, Meta, digest
from logger.recording.descriptor_reader import read_descriptor
from logger.recording.disk import unreadable
from logger.recording.journal import READINGS
from logger.recording.notes import NOTES, Noted, read_notes
from logger.recording.readings_file import BadLine, Lines, read_lines
from logger.recording.sampling_file import read_sampling

SALVAGE = "To keep the lines that can be read: evencup export --salvage."
_WITH_VALUE = [status.value for status in Status if status.has_value]
_SHOWN_LINES = 10


@dataclass(frozen=True, eq=False)
class Recording:
    """A recording, opened; the files are not looked at again.

    :param path: its folder
    :param meta: what is known about the brew
    :param problems: what the reader must know: ``cut off: ...``, ``readings.csv has changed ...``
    :param sampled_s: when each reading was taken, in the order of the file; None where that is not known
    :param readings: ``time_s``, ``channel``, ``value``, ``unit``, ``status``, ``device_time_s``, in the
        order of the file
    :param noted: what was noted of the brew since it was recorded
    """

    path: Path
    meta: Meta
    problems: tuple[str, ...]
    readings: pd.DataFrame
    sampled_s: NDArray[np.float64] | None = None
    noted: Noted = field(default_factory=Noted)

    @classmethod
    def open(cls, path: str | Path, *, salvage: bool = False) -> Self:
        """Open a recording; one that was cut off opens with every whole line.

        :param path: the folder, or one of the files in it
        :param salvage: leave out what cannot be read, and say so in ``problems``, rather than refuse
        :raises BadInputError: when it is none, or is damaged: with file, line, what, and what to do
        """
        folder = _folder(Path(path))
        descriptor, descriptor_problems = _descriptor(folder, salvage)
        data = _bytes(folder / READINGS)
        lines = _lines(folder / READINGS, data, salvage)
        listed = descriptor.sampling if descriptor else None
        sampled_s, sampling_problem = read_sampling(folder, len(lines.frame), listed)
        problems = [*descriptor_problems, *_problems(descriptor, data, lines)]
        problems += [sampling_problem] if sampling_problem else []
        problems += _outages(lines.frame)
        noted = read_notes(folder)
        problems += noted.problems
        meta = descriptor.meta if descriptor else Meta(software="")
        return cls(folder, meta, tuple(problems), lines.frame, sampled_s, noted)

    @property
    def name(self) -> str:
        """The folder's name."""
        return self.path.resolve().name

    def channels(self, unit: str | None = None) -> tuple[str, ...]:
        """The channels in order of appearance.

        :param unit: ``g`` or ``°C`` for those alone
        """
        return tuple(dict.fromkeys(name for name, of in self._channels if unit in (None, of)))

    def channel(self, name: str) -> pd.DataFrame:
        """The readings of one channel, in the order of the file.

        :raises BadInputError: when there is none of that name, with those that there are
        """
        rows = self.readings[self.readings["channel"] == name]
        if rows.empty:
            known = ", ".join(self.channels()) or "none: it holds no reading"
            raise BadInputError(str(self.path), f"has no channel {name!r}", f"Its channels are: {known}.")
        return rows.reset_index(drop=True)

    def arrays(self, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Times (s) and values of those readings of a channel that are measurements.

        :raises BadInputError: when there is no channel of that name
        """
        rows = self._rows(name)
        columns = (self.readings[column].to_numpy(dtype=np.float64) for column in ("time_s", "value"))
        time_s, values = (column[rows] for column in columns)
        return time_s, values

    def sampled(self, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The same as :meth:`arrays`, with the times at which the readings were taken, where they are known.

        :raises BadInputError: when there is no channel of that name
        """
        time_s, values = self.arrays(name)
        if self.sampled_s is None:
            return time_s, values
        return self.sampled_s[self._rows(name)], values

    def _rows(self, name: str) -> NDArray[np.intp]:
        """Which readings are measurements of a channel."""
        if name not in self._measured:
            self.channel(name)
        return self._measured[name]

    @cached_property
    def _measured(self) -> dict[str, NDArray[np.intp]]:
        """Of each channel the rows that are measurements."""
        readings = self.readings
        codes, names = pd.factorize(readings["channel"])
        measured = (readings["status"].isin(_WITH_VALUE) & readings["value"].notna()).to_numpy()
        return {str(name): np.flatnonzero(measured & (codes == code)) for code, name in enumerate(names)}

    @cached_property
    def _channels(self) -> tuple[tuple[str, str], ...]:
        """Each channel with its unit, in order of appearance."""
        seen = self.readings[["channel", "unit"]].drop_duplicates()
        return tuple(zip(map(str, seen["channel"]), map(str, seen["unit"]), strict=True))

    @property
    def weight_channel(self) -> str | None:
        """``scale`` where there is one, else the first channel in g, else None."""
        weights = self.channels(GRAM)
        return "scale" if "scale" in weights else next(iter(weights), None)


def _folder(path: Path) -> Path:
    if path.name in (READINGS, DESCRIPTOR, SAMPLING, NOTES) and not path.is_dir():
        path = path.parent
    if not path.exists():
        raise BadInputError(str(path), "there is no such folder", "Known recordings: evencup list.")
    if not path.is_dir():
        raise BadInputError(
            str(path),
            "is a file, and a recording is a folder",
            "A CSV becomes a recording with: evencup import.",
        )
    if (path / READINGS).exists():
        return path
    if any(path.glob(f"*/{READINGS}")):
        raise BadInputError(str(path), "holds recordings but is none", "Name one of the folders in it.")
    raise BadInputError(
        str(path), f"is not a recording: there is no {READINGS} in it", "Known recordings: evencup list."
    )


def _descriptor(folder: Path, salvage: bool) -> tuple[Descriptor | None, list[str]]:
    path = folder / DESCRIPTOR
    if not path.exists():
        return None, [f"{DESCRIPTOR} is missing: nothing is known about coffee, target and devices"]
    try:
        return read_descriptor(path), []
    except BadInputError as error:
        if not salvage:
            raise
        return None, [f"{error.where} {error.what}: left out"]


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise unreadable(path, error) from error


def _lines(path: Path, data: bytes, salvage: bool) -> Lines:
    lines = read_lines(path, data)
    if not lines.bad or salvage:
        return lines
    first, more = lines.bad[0], len(lines.bad) - 1
    others = f" ({more} more such {'line' if more == 1 else 'lines'})" if more else ""
    raise BadInputError(f"{path}, line {first.number}", f"{first.what}{others}", SALVAGE)


def _problems(descriptor: Descriptor | None, data: bytes, lines: Lines) -> list[str]:
    problems = []
    complete = descriptor is not None and descriptor.meta.complete
    if descriptor is not None and not complete:
        problems.append("cut off: the recording was never closed, or is still running")
    if lines.torn_bytes:
        problems.append(f"cut off: the last line is incomplete and was dropped ({lines.torn_bytes} bytes)")
    if complete and descriptor is not None and _has_changed(descriptor, data):
        problems.append(f"{READINGS} has changed since the recording was closed")
    if lines.bad:
        problems.append(_left_out(lines.bad))
    return problems


def _outages(readings: pd.DataFrame) -> list[str]:
    """Say for each channel when its link was lost, and for how long."""
    said: list[str] = []
    if not (readings["status"] == Status.LOST.value).any():
        return said
    for channel, rows in readings.groupby("channel", sort=False):
        is_lost = (rows["status"] == Status.LOST.value).to_numpy()
        time_s = rows["time_s"].to_numpy()
        for first in np.flatnonzero(is_lost & ~np.roll(is_lost, 1)):
            back = np.flatnonzero(~is_lost[first:])
            when = f"{channel}: the link was lost at {clock_text(time_s[first])}"
            said.append(
                f"{when} for {time_s[first + back[0]] - time_s[first]:.0f} s"
                if back.size
                else f"{when} for good"
            )
    return said


def _has_changed(descriptor: Descriptor, data: bytes) -> bool:
    if descriptor.size is not None and descriptor.size != len(data):
        return True
    return descriptor.digest is not None and descriptor.digest != digest(data)


def _left_out(bad: tuple[BadLine, ...]) -> str:
    numbers = ", ".join(str(line.number) for line in bad[:_SHOWN_LINES])
    more = ", ..." if len(bad) > _SHOWN_LINES else ""
    noun = "line was" if len(bad) == 1 else "lines were"
    return f"{len(bad)} unreadable {noun} left out: {numbers}{more}"

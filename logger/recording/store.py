"""Where recordings live, how a new one's folder is named, and which there are."""

from __future__ import annotations

import os
import re
import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from drivers.reading import JOURNAL_HEADER, parse_journal_line
from logger.errors import EvencupError
from logger.recording.descriptor import DESCRIPTOR, Meta
from logger.recording.descriptor_reader import read_descriptor
from logger.recording.disk import refusal, unreadable
from logger.recording.journal import READINGS

DATA_VARIABLE = "EVENCUP_DATA"

_SLUG_LENGTH = 40
_LONGEST_LINE = 4096
_LONG_AGO = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Summary:
    """What a list of recordings shows of one, known without loading its readings.

    :param duration_s: from the first reading to the last; None where there is none
    :param problem: why it may not be whole (it was cut off, its descriptor is missing) or cannot be opened
        (what is damaged), or ""
    :param damaged: whether it cannot be opened as it is
    :param described: whether it has a descriptor
    """

    path: Path
    meta: Meta
    duration_s: float | None
    problem: str = ""
    damaged: bool = False
    described: bool = True

    @property
    def name(self) -> str:
        """The folder's name."""
        return self.path.name

    @property
    def state(self) -> str:
        """In a word or two: ``damaged``, ``no description``, ``cut off``; or "" where it is sound."""
        if self.damaged:
            return "damaged"
        if not self.described:
            return "no description"
        return "cut off" if self.problem or not self.meta.complete else ""


def data_folder() -> Path:
    """The folder for recordings where no other is named; it need not exist yet.

    The environment variable ``EVENCUP_DATA`` names another one.
    """
    if chosen := os.environ.get(DATA_VARIABLE):
        return Path(chosen).expanduser()
    from platformdirs import user_data_path

    return user_data_path("evencup", appauthor=False) / "recordings"


def new_folder(into: Path, started: datetime, title: str) -> Path:
    """Make the folder for a new recording: ``2026-11-25-0730-three-pours``.

    :param into: where recordings live; made where it does not exist
    :param started: gives the name its date and time, in the time zone that it comes in
    :param title: gives the name its words
    :raises FailureError: when the disk refuses
    """
    stem = f"{started:%Y-%m-%d-%H%M}-{slug(title) or 'brew'}"
    try:
        into.mkdir(parents=True, exist_ok=True)
        for number in count(1):
            folder = into / (stem if number == 1 else f"{stem}-{number}")
            try:
                folder.mkdir()
            except FileExistsError:
                continue
            return folder
    except OSError as error:
        raise refusal(into, "make a folder for the recording", error) from error
    raise AssertionError("count() does not end")


def slug(title: str) -> str:
    """Write a title with lower-case ASCII letters, digits and ``-`` alone, at most 40 of them."""
    ascii_text = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_text).strip("-")[:_SLUG_LENGTH].rstrip("-")


def find(into: Path | None = None) -> list[Summary]:
    """List the recordings in a folder, newest first; the damaged ones too, with what is wrong.

    :param into: where to look; None for :func:`data_folder`, which may be missing
    :raises BadInputError: when the folder that was named is none
    """
    folder = into or data_folder()
    if into is None and not folder.exists():
        return []
    try:
        places = [place for place in sorted(folder.iterdir()) if _is_recording(place)]
    except OSError as error:
        raise unreadable(folder, error) from error
    summaries = [_summary(place) for place in places]
    return sorted(summaries, key=lambda s: (s.meta.started or _LONG_AGO, s.name), reverse=True)


def _is_recording(place: Path) -> bool:
    # A name with a dot in front is an import at work, or what a crashed one left behind.
    if place.name.startswith("."):
        return False
    return (place / READINGS).exists() or (place / DESCRIPTOR).exists()


def _summary(folder: Path) -> Summary:
    meta, problem, damaged = Meta(software=""), "", False
    described = (folder / DESCRIPTOR).exists()
    try:
        if described:
            meta = read_descriptor(folder / DESCRIPTOR).meta
            problem = "" if meta.complete else "cut off, or still running"
        else:
            problem = f"{DESCRIPTOR} is missing"
    except EvencupError as error:
        problem, damaged = error.what, True
    try:
        duration_s = _duration_s(folder / READINGS)
    except (OSError, ValueError) as error:
        what = error.strerror if isinstance(error, OSError) else error
        return Summary(folder, meta, None, f"{READINGS}: {what}", True, described)
    return Summary(folder, meta, duration_s, problem, damaged, described)


def _duration_s(path: Path) -> float | None:
    """Read the first and the last whole line of a file of readings, and nothing between.

    :raises ValueError: when the file is none, by its first line, or a line cannot be read
    """
    with path.open("rb") as file:
        _check_header(file.readline(_LONGEST_LINE))
        first = file.readline(_LONGEST_LINE)
        if not first.endswith(b"\n"):
            return None
        end = file.seek(0, os.SEEK_END)
        start = file.seek(max(0, end - 2 * _LONGEST_LINE))
        tail = file.read()
    whole = tail[: tail.rfind(b"\n") + 1].splitlines()
    if start == 0:
        whole = whole[1:]
    if not whole:
        return None
    return _time_s(whole[-1]) - _time_s(first.rstrip(b"\r\n"))


def _check_header(line: bytes) -> None:
    if not line:
        raise ValueError("is empty")
    if line.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n") != f"{JOURNAL_HEADER}\n".encode():
        shown = line[:60].decode(errors="replace").strip()
        raise ValueError(f"line 1 is {shown!r}, not the header of a recording")


def _time_s(line: bytes) -> float:
    try:
        return parse_journal_line(line.decode()).time_s
    except UnicodeDecodeError:
        raise ValueError("a line is not UTF-8 text") from None

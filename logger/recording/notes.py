"""``notes.jsonl``: what is learnt of a brew after its recording was closed, which itself never changes.

One note a line, each a JSON object with its date, only ever appended to. A later one takes the place of an
earlier one of the same key; the earlier one stays in the file. ``docs/file-format.md`` documents the fields.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logger.errors import FailureError
from logger.recording.disk import refusal, sync_folder
from logger.recording.note_kinds import (
    KINDS,
    MarkNote,
    StrengthNote,
    TasteNote,
    TextNote,
    WeighedNote,
    What,
    WithdrawnNote,
    facts_of,
)

if TYPE_CHECKING:
    from logger.recording.recording import Recording

NOTES = "notes.jsonl"
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Note:
    """One line of the file.

    :param noted: when it was written, with its time zone
    """

    noted: datetime
    what: What


@dataclass(frozen=True, slots=True)
class Noted:
    """All that was noted of a recording.

    :param notes: in the order of the file
    :param problems: which lines could not be read, and why, a clause each
    """

    notes: tuple[Note, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def in_force(self) -> tuple[Note, ...]:
        """What counts now: of each key the latest, tastes put together, what was withdrawn left out."""
        standing: dict[str, list[Note]] = {}
        for note in self.notes:
            before = standing.pop(note.what.key, [])
            if isinstance(note.what, WithdrawnNote):
                continue
            standing[note.what.key] = _with_later(before, note)
        return tuple(note for notes in standing.values() for note in notes)

    @property
    def strength(self) -> StrengthNote | None:
        """What a refractometer showed."""
        return next((note.what for note in self.in_force if isinstance(note.what, StrengthNote)), None)

    @property
    def beverage(self) -> WeighedNote | None:
        """What was in the cup, as weighed."""
        return self._weighed("beverage")

    @property
    def dose(self) -> WeighedNote | None:
        """The dry coffee, where it was noted later."""
        return self._weighed("dose")

    @property
    def marks(self) -> dict[str, float]:
        """Moments in seconds after the brew's start, by name."""
        return {
            note.what.name: note.what.after_s for note in self.in_force if isinstance(note.what, MarkNote)
        }

    @property
    def tastes(self) -> tuple[TasteNote, ...]:
        """What was called and what was tasted, one of each for each person."""
        return tuple(note.what for note in self.in_force if isinstance(note.what, TasteNote))

    @property
    def texts(self) -> tuple[str, ...]:
        """What was noted in words, in order."""
        return tuple(note.what.text for note in self.in_force if isinstance(note.what, TextNote))

    def _weighed(self, what: str) -> WeighedNote | None:
        weighed = [note.what for note in self.in_force if isinstance(note.what, WeighedNote)]
        return next((one for one in weighed if one.what == what), None)


def read_notes(folder: Path) -> Noted:
    """Read what was noted of a recording; what cannot be read is left out, and said in ``problems``.

    A damaged note never keeps a recording from being opened.
    """
    path = folder / NOTES
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Noted()
    except OSError as error:
        return Noted((), (f"{NOTES} cannot be read: {error.strerror or type(error).__name__}",))
    return parse_notes(data)


def parse_notes(data: bytes) -> Noted:
    """Read the file's bytes."""
    notes: list[Note] = []
    problems: list[str] = []
    lines = data.removeprefix(_BYTE_ORDER_MARK).split(b"\n")
    for number, line in enumerate(lines, 1):
        if not line.strip(b" \t\r\x00"):
            continue
        try:
            notes.append(_note(line))
        except (ValueError, RecursionError) as error:
            torn = number == len(lines)
            why = "is incomplete and was dropped" if torn else f"was left out: {_reason(error)}"
            problems.append(f"{NOTES}, line {number}, {why}")
    return Noted(tuple(notes), tuple(problems))


def append_notes(folder: Path, whats: Sequence[What], now: datetime) -> None:
    """Write notes at the end of the file, all or none, and wait until they are on the disk.

    :param folder: the recording's
    :raises FailureError: when the disk refuses
    """
    path = folder / NOTES
    data = b"".join(note_line(Note(now, what)) for what in whats)
    try:
        is_new = not path.exists()
        with path.open("ab", buffering=0) as file:
            # A torn last line stays as it is; the next note begins on a line of its own.
            _write(path, file.fileno(), (b"\n" if _is_torn(path) else b"") + data)
        if is_new:
            sync_folder(folder)
    except OSError as error:
        raise refusal(path, "write the note", error) from error


def note_line(note: Note) -> bytes:
    """Write a note as a line of the file."""
    noted = note.noted.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    text = json.dumps({"noted": noted, **facts_of(note.what)}, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode("utf-8", "backslashreplace")


def with_noted(recording: Recording, start_s: float | None) -> Recording:
    """The recording with what was noted of it later in the place of what was known when it was made.

    :param start_s: the brew's start on the recording's axis, from which noted moments count; None: there is
        none
    """
    noted = recording.noted
    meta = recording.meta
    if noted.dose is not None:
        meta = replace(meta, dose_g=noted.dose.grams)
    if noted.marks and start_s is not None:
        meta = replace(meta, marks={**meta.marks, **marks_on_axis(noted, start_s)})
    return recording if meta is recording.meta else replace(recording, meta=meta)


def marks_on_axis(noted: Noted, start_s: float) -> Mapping[str, float]:
    """The noted moments in seconds on the recording's axis."""
    return {name: start_s + after_s for name, after_s in noted.marks.items()}


def _with_later(before: Iterable[Note], note: Note) -> list[Note]:
    """Put a note in the place of those before it, or beside them."""
    earlier = list(before)
    if isinstance(note.what, TextNote):
        return [*earlier, note]
    if isinstance(note.what, TasteNote) and earlier and isinstance(earlier[-1].what, TasteNote):
        return [Note(note.noted, earlier[-1].what.with_later(note.what))]
    return [note]


def _note(line: bytes) -> Note:
    given: Any = json.loads(line.decode("utf-8"))
    if not isinstance(given, dict):
        raise ValueError("it is no object in braces")
    kind = given.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise ValueError("its kind is not known to this version")
    return Note(_moment(given.get("noted")), KINDS[kind].of(given))


def _moment(value: object) -> datetime:
    if not isinstance(value, str):
        raise ValueError("noted is no date")
    try:
        moment = datetime.fromisoformat(value)
        # Without a zone it is taken for this machine's; a year at the very edge has none to go to.
        return moment.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        raise ValueError("noted is no date") from None


def _reason(error: Exception) -> str:
    if isinstance(error, UnicodeDecodeError | json.JSONDecodeError | RecursionError):
        return "it is no JSON"
    return str(error)


def _is_torn(path: Path) -> bool:
    with path.open("rb") as file:
        if file.seek(0, os.SEEK_END) == 0:
            return False
        file.seek(-1, os.SEEK_END)
        return file.read(1) != b"\n"


def _write(path: Path, handle: int, data: bytes) -> None:
    """Write all or nothing: what a full disk took of it is cut off again."""
    size = os.fstat(handle).st_size
    if os.write(handle, data) < len(data):
        os.ftruncate(handle, size)
        raise FailureError(str(path), "the disk took only a part of the note", "Free some space there.")
    os.fsync(handle)

"""The notes beside a recording: appended, dated, the later one wins, nothing is lost."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import FailureError
from logger.recording import Recording
from logger.recording.note_kinds import (
    INTENSITIES,
    KINDS,
    WORDS,
    MarkNote,
    StrengthNote,
    TasteNote,
    TextNote,
    WeighedNote,
    WithdrawnNote,
)
from logger.recording.notes import (
    NOTES,
    Note,
    Noted,
    append_notes,
    note_line,
    parse_notes,
    read_notes,
    with_noted,
)
from tests.logger.recording.conftest import readings

NOW = datetime(2026, 11, 25, 8, 12, 3, 120_000, tzinfo=UTC)


def _noted(*whats) -> Noted:
    return parse_notes(b"".join(note_line(Note(NOW, what)) for what in whats))


labels = st.text(
    st.characters(categories=("L", "N", "P", "Zs"), max_codepoint=0x2FFF), min_size=1, max_size=12
)
words = labels.filter(lambda word: word.strip())
numbers = st.floats(0.0, 15.0)
strengths = st.builds(
    StrengthNote,
    st.lists(st.floats(0.0, 100.0), min_size=1, max_size=4).map(tuple),
    unit=st.sampled_from(["%", "°Bx"]),
    step=st.sampled_from([0.1, 0.01]),
    corrected=st.booleans(),
    sample_c=st.none() | st.floats(0.0, 100.0),
    coefficient=st.none() | st.floats(0.5, 1.0),
)
tastes = st.builds(
    TasteNote,
    st.sampled_from(["called", "tasted"]),
    labels,
    st.dictionaries(st.sampled_from(INTENSITIES), numbers, min_size=1),
    st.dictionaries(st.sampled_from(WORDS), st.lists(words, min_size=1, max_size=3).map(tuple)),
)
whats = st.one_of(
    strengths,
    tastes,
    st.builds(WeighedNote, st.sampled_from(["beverage", "dose"]), st.floats(0.01, 5000.0)),
    st.builds(MarkNote, st.sampled_from(["dry", "served", "pump"]), st.floats(-60.0, 600.0)),
    st.builds(TextNote, words),
    st.builds(WithdrawnNote, st.sampled_from(["strength", "mark:dry"])),
)
notes = st.builds(
    Note,
    st.integers(0, 10**9).map(lambda ms: datetime(2020, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)),
    whats,
)


@given(st.lists(notes, max_size=6))
def test_what_is_written_is_read(written: list[Note]) -> None:
    noted = parse_notes(b"".join(map(note_line, written)))
    assert noted.notes == tuple(written)
    assert noted.problems == ()


@given(st.lists(notes, max_size=4), st.integers(0, 2000))
def test_a_file_cut_off_anywhere_gives_every_whole_line(written: list[Note], at: int) -> None:
    lines = [note_line(note) for note in written]
    data = b"".join(lines)[:at]
    whole = sum(len(b"".join(lines[: n + 1])) <= len(data) for n in range(len(lines)))
    noted = parse_notes(data)
    # A line that lacks nothing but its end is whole too.
    assert noted.notes[:whole] == tuple(written[:whole])
    assert len(noted.notes) <= whole + 1
    assert all("is incomplete and was dropped" in problem for problem in noted.problems)


@given(st.binary(max_size=300))
def test_any_bytes_are_read(data: bytes) -> None:
    noted = parse_notes(data)
    assert noted.notes == () or data.count(b"{") > 0
    assert isinstance(noted.in_force, tuple) and isinstance(noted.marks, dict)


@given(
    st.sampled_from(sorted(KINDS)),
    st.dictionaries(
        st.sampled_from(
            ["readings", "unit", "step", "grams", "name", "after_s", "acidity", "aroma", "text", "what"]
        ),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
            lambda inner: st.lists(inner, max_size=3),
            max_leaves=4,
        ),
    ),
)
def test_any_fields_are_read_or_left_out(kind: str, fields: dict) -> None:
    line = json.dumps({"noted": "2026-11-25T08:00:00Z", "kind": kind, **fields}).encode()
    noted = parse_notes(line + b"\n")
    assert len(noted.notes) + len(noted.problems) == 1
    for note in noted.notes:
        assert all(math.isfinite(one) for one in getattr(note.what, "readings", ()))


def test_the_later_note_wins_and_the_earlier_stays() -> None:
    noted = _noted(
        StrengthNote((1.30,)), StrengthNote((1.35,)), MarkNote("dry", 170.0), MarkNote("dry", 178.0)
    )
    assert noted.strength == StrengthNote((1.35,))
    assert noted.marks == {"dry": 178.0}
    assert len(noted.notes) == 4 and len(noted.in_force) == 2


def test_what_is_withdrawn_no_longer_counts_and_may_be_noted_again() -> None:
    assert _noted(StrengthNote((1.3,)), WithdrawnNote("strength")).strength is None
    again = _noted(StrengthNote((1.3,)), WithdrawnNote("strength"), StrengthNote((1.4,)))
    assert again.strength == StrengthNote((1.4,))


def test_tastes_of_one_person_are_put_together() -> None:
    noted = _noted(
        TasteNote("tasted", "AB", {"acidity": 8.0, "body": 5.0}, {}),
        TasteNote("tasted", "CD", {"acidity": 3.0}, {}),
        TasteNote("tasted", "AB", {"body": 6.0}, {"flavour": ("plum",)}),
    )
    assert sorted(noted.tastes, key=lambda taste: taste.taster) == [
        TasteNote("tasted", "AB", {"acidity": 8.0, "body": 6.0}, {"flavour": ("plum",)}),
        TasteNote("tasted", "CD", {"acidity": 3.0}, {}),
    ]


def test_words_are_kept_beside_each_other() -> None:
    assert _noted(TextNote("one"), TextNote("two")).texts == ("one", "two")


def test_appended_to_a_torn_file_nothing_is_lost(tmp_path: Path) -> None:
    append_notes(tmp_path, [StrengthNote((1.3,))], NOW)
    path = tmp_path / NOTES
    path.write_bytes(path.read_bytes() + b'{"noted": "2026-11-25T08:1')
    append_notes(tmp_path, [TextNote("after the crash")], NOW)
    noted = read_notes(tmp_path)
    assert noted.strength == StrengthNote((1.3,)) and noted.texts == ("after the crash",)
    assert noted.problems == (f"{NOTES}, line 2, was left out: it is no JSON",)
    assert path.read_bytes().count(b"\n") == 3


def test_a_note_of_a_later_version_is_passed_over() -> None:
    data = b'{"noted": "2027-01-01T00:00:00Z", "kind": "aura", "colour": 3}\n' + note_line(
        Note(NOW, TextNote("x"))
    )
    noted = parse_notes(data)
    assert noted.texts == ("x",)
    assert noted.problems == (f"{NOTES}, line 1, was left out: its kind is not known to this version",)


def test_what_a_spreadsheet_or_an_editor_adds_is_no_harm() -> None:
    line = note_line(Note(NOW, TextNote("x"))).rstrip(b"\n")
    assert parse_notes(b"\xef\xbb\xbf" + line + b"\r\n\r\n" + line).texts == ("x", "x")


def test_a_folder_that_refuses(tmp_path: Path) -> None:
    with pytest.raises(FailureError, match="could not write the note"):
        append_notes(tmp_path / "nowhere", [TextNote("x")], NOW)


def test_a_recording_opens_with_its_notes_and_does_not_change(write_recording) -> None:
    folder = write_recording(readings(20))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    whats = [MarkNote("dry", 1.2), WeighedNote("dose", 15.0)]
    append_notes(folder, whats, NOW)
    recording = Recording.open(folder / NOTES)
    assert recording.problems == ()
    assert recording.noted.marks == {"dry": 1.2}
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.name != NOTES} == before
    told = with_noted(recording, 0.5)
    assert told.meta.marks == {"dry": 1.7} and told.meta.dose_g == 15.0
    assert with_noted(recording, None).meta.marks == {}


def test_a_damaged_note_never_keeps_a_recording_from_being_opened(write_recording) -> None:
    folder = write_recording(readings(20))
    (folder / NOTES).write_bytes(b"\x00\xff\n[1]\n{}\n")
    recording = Recording.open(folder)
    assert len(recording.readings) == 20
    assert [problem.split(",")[1].strip() for problem in recording.problems] == ["line 1", "line 2", "line 3"]

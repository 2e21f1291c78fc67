from __future__ import annotations

import os
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from logger.compare import assess
from logger.compare.kept import KeptRecording, assess_and_keep, assess_kept, cache_folder, forget_old
from logger.errors import BadInputError
from logger.recording import Recording
from logger.recording.note_kinds import MarkNote
from logger.recording.notes import NOTES, Note, note_line
from logger.show.plain_data.json_line import json_line
from logger.target import Target, parse_target, read_target

TUESDAY = Path("recordings/tuesday-practice/2026-11-24-0705-four-pours")
ESPRESSO = Path("recordings/evening/2026-11-24-1830-house-espresso")
TARGET = Path("recordings/four-pours.toml")


@pytest.fixture
def target() -> Target:
    return read_target(TARGET)


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return Path(shutil.copytree(TUESDAY, tmp_path / "brew"))


@pytest.mark.parametrize("path", [TUESDAY, ESPRESSO], ids=lambda path: path.name)
def test_what_was_kept_is_what_was_made(path: Path, tmp_path: Path) -> None:
    made = assess_kept(path, None, tmp_path)
    kept = assess_kept(path, None, tmp_path)
    assert json_line(kept) == json_line(made) == json_line(assess(Recording.open(path)))
    assert kept is not made
    for name in ("time_s", "weight_g", "flow_g_s"):
        assert getattr(kept.analysis, name).tobytes() == getattr(made.analysis, name).tobytes()


def test_the_readings_are_there_when_they_are_asked_for(recording: Path, tmp_path: Path) -> None:
    assess_kept(recording, None, tmp_path)
    kept = assess_kept(recording, None, tmp_path)
    assert kept.recording.readings.equals(Recording.open(recording).readings)
    assert kept.recording.weight_channel == "scale"


def test_what_a_recorder_made_of_a_brew_serves_a_later_overlay(recording: Path, tmp_path: Path) -> None:
    made = assess_and_keep(Recording.open(recording), tmp_path / "kept")
    target = parse_target(made.recording.meta.target_text, "as recorded")
    assert isinstance(assess_kept(recording, target, tmp_path / "kept").recording, KeptRecording)
    assert len(list((tmp_path / "kept").iterdir())) == 1
    assert json_line(made) == json_line(assess(Recording.open(recording)))


def test_what_is_noted_afterwards_is_seen(recording: Path, tmp_path: Path) -> None:
    """A mark changes what is made of the curve, so that it is looked at anew."""
    assert not assess_kept(recording, None, tmp_path).recording.noted.notes
    dry = Note(datetime(2026, 11, 24, 8, tzinfo=UTC), MarkNote("dry", 178.0))
    (recording / NOTES).write_bytes(note_line(dry))
    fresh, kept = assess_kept(recording, None, tmp_path), assess_kept(recording, None, tmp_path)
    assert fresh.recording.noted.marks == kept.recording.noted.marks == {"dry": 178.0}
    assert json_line(kept) == json_line(fresh) != json_line(assess_kept(TUESDAY, None, tmp_path))


def test_another_target_is_another_analysis(recording: Path, target: Target, tmp_path: Path) -> None:
    assess_kept(recording, target, tmp_path)
    wider = parse_target(TARGET.read_text().replace("weight_g = 2", "weight_g = 9"), "wider")
    assert wider != target
    comparison = assess_kept(recording, wider, tmp_path).comparison
    assert comparison is not None and comparison.target == wider


def test_a_recording_that_was_changed_is_read_again(recording: Path, tmp_path: Path) -> None:
    assess_kept(recording, None, tmp_path)
    lines = (recording / "readings.csv").read_text().splitlines(keepends=True)
    (recording / "readings.csv").write_text("".join(lines[:-200]))
    again = assess_kept(recording, None, tmp_path)
    assert "readings.csv has changed since the recording was closed" in again.recording.problems


def test_a_recording_that_was_cut_off_is_not_kept(recording: Path, tmp_path: Path) -> None:
    (recording / "datapackage.json").unlink()
    assess_kept(recording, None, tmp_path / "kept")
    assert not (tmp_path / "kept").exists()


@pytest.mark.parametrize("damage", [b"", b"evencup analysis 1\n       99999{}", b"\x80\x04K\x01.", b"{}"])
def test_a_damaged_file_is_made_anew(recording: Path, tmp_path: Path, damage: bytes) -> None:
    made = assess_kept(recording, None, tmp_path / "kept")
    (file,) = (tmp_path / "kept").iterdir()
    file.write_bytes(damage)
    assert json_line(assess_kept(recording, None, tmp_path / "kept")) == json_line(made)


def test_a_file_that_names_anything_but_our_own_data_is_not_followed(recording: Path, tmp_path: Path) -> None:
    made = assess_kept(recording, None, tmp_path / "kept")
    (file,) = (tmp_path / "kept").iterdir()
    head = b'{"of": "subprocess:Popen", "with": {"args": "touch %s"}}' % os.fsencode(tmp_path / "owned")
    file.write_bytes(b"evencup analysis 1\n%12d" % len(head) + head)
    assert json_line(assess_kept(recording, None, tmp_path / "kept")) == json_line(made)
    assert not (tmp_path / "owned").exists()


def test_where_nothing_can_be_written_nothing_is_kept_and_all_goes_on(
    recording: Path, tmp_path: Path
) -> None:
    (tmp_path / "kept").write_text("a file has its name")
    assert assess_kept(recording, None, tmp_path / "kept").analysis.pours


def test_two_recordings_that_are_none_are_told_apart(tmp_path: Path) -> None:
    for name in ("one", "two"):
        with pytest.raises(BadInputError, match=name):
            assess_kept(tmp_path / name, None, tmp_path / "kept")


def test_what_is_two_months_old_is_forgotten(recording: Path, tmp_path: Path) -> None:
    assess_kept(recording, None, tmp_path / "kept")
    (file,) = (tmp_path / "kept").iterdir()
    made_s = file.stat().st_mtime
    forget_old(made_s + 59 * 86_400, tmp_path / "kept")
    assert file.exists()
    forget_old(made_s + 61 * 86_400, tmp_path / "kept")
    assert not file.exists()


def test_the_folder_can_be_chosen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("EVENCUP_CACHE", str(tmp_path))
    assert cache_folder() == tmp_path

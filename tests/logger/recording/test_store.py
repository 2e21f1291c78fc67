from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import platformdirs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import BadInputError, FailureError
from logger.recording import Meta, Recording, data_folder, find, new_folder
from logger.recording.store import slug

MORNING = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)


def test_a_folder_is_named_by_date_time_and_title(tmp_path):
    assert new_folder(tmp_path / "into", MORNING, "Three pours").name == "2026-11-25-0730-three-pours"


def test_a_name_that_is_taken_gets_a_number(tmp_path):
    names = [new_folder(tmp_path, MORNING, "V").name for _ in range(3)]
    assert names == ["2026-11-25-0730-v", "2026-11-25-0730-v-2", "2026-11-25-0730-v-3"]


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Café über 92 °C", "cafe-uber-92-c"),
        ("../../etc/passwd", "etc-passwd"),
        ("コーヒー", ""),
        ("a" * 100, "a" * 40),
        ("", ""),
    ],
)
def test_a_title_becomes_words_that_every_system_takes(title, words):
    assert slug(title) == words


def test_a_title_without_a_usable_letter_is_called_brew(tmp_path):
    assert new_folder(tmp_path, MORNING, "コーヒー").name == "2026-11-25-0730-brew"


@given(st.text())
def test_a_slug_is_safe_whatever_the_title(title):
    words = slug(title)
    assert len(words) <= 40
    assert all(letter in "abcdefghijklmnopqrstuvwxyz0123456789-" for letter in words)
    assert not words.startswith("-")
    assert not words.endswith("-")


def test_where_no_folder_can_be_made_it_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(FailureError, match="could not make a folder for the recording"):
        new_folder(tmp_path / "file", MORNING, "V")


def test_recordings_live_where_the_system_keeps_a_users_data(monkeypatch, tmp_path):
    monkeypatch.delenv("EVENCUP_DATA", raising=False)
    assert data_folder() == Path(platformdirs.user_data_dir("evencup", appauthor=False)) / "recordings"
    monkeypatch.setenv("EVENCUP_DATA", str(tmp_path))
    assert data_folder() == tmp_path


def test_the_list_is_newest_first_with_what_is_known(write_recording, some_readings, tmp_path):
    for day in (1, 3, 2):
        started = datetime(2026, 11, day, tzinfo=UTC)
        meta = Meta(title=f"Day {day}", started=started, dose_g=18.0, complete=True)
        write_recording(some_readings(day * 10), meta, name=f"all/{day}")
    summaries = find(tmp_path / "all")
    assert [summary.meta.title for summary in summaries] == ["Day 3", "Day 2", "Day 1"]
    assert [summary.duration_s for summary in summaries] == pytest.approx([2.9, 1.9, 0.9])
    assert not any(summary.problem for summary in summaries)


def test_damaged_ones_are_listed_with_their_reason(write_recording, some_readings, tmp_path):
    for name in ("good", "open", "torn", "broken", "bare", "gone", "empty"):
        write_recording(
            some_readings(3) if name != "empty" else [], complete=name != "open", name=f"all/{name}"
        )
    everything = tmp_path / "all"
    (everything / "torn" / "readings.csv").write_bytes(
        (everything / "torn" / "readings.csv").read_bytes()[:-5]
    )
    (everything / "broken" / "datapackage.json").write_text("{")
    (everything / "bare" / "datapackage.json").unlink()
    (everything / "gone" / "readings.csv").unlink()
    (everything / "notes").mkdir()
    (everything / ".import-123").mkdir()
    (everything / ".import-123" / "readings.csv").write_text("")
    found = {summary.name: summary for summary in find(everything)}
    assert set(found) == {"good", "open", "torn", "broken", "bare", "gone", "empty"}
    assert found["good"].problem == ""
    assert found["open"].problem == "cut off, or still running"
    assert found["torn"].duration_s == pytest.approx(0.1)
    assert "is not JSON" in found["broken"].problem
    assert found["broken"].duration_s == pytest.approx(0.2)
    assert found["bare"].problem == "datapackage.json is missing"
    assert "No such file" in found["gone"].problem
    assert found["empty"].duration_s is None
    assert {name for name, summary in found.items() if summary.damaged} == {"broken", "gone"}


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"", "readings.csv: is empty"),
        (b"time,weight\n0,1\n", "readings.csv: line 1 is 'time,weight', not the header of a recording"),
        (b"time_s,chan", "readings.csv: line 1 is 'time_s,chan', not the header of a recording"),
    ],
)
def test_a_file_without_the_header_is_listed_as_damaged(
    write_recording, some_readings, tmp_path, content, problem
):
    folder = write_recording(some_readings(3), name="all/one")
    (folder / "readings.csv").write_bytes(content)
    (summary,) = find(tmp_path / "all")
    assert (summary.problem, summary.damaged, summary.state) == (problem, True, "damaged")
    with pytest.raises(BadInputError):
        Recording.open(folder)


def test_a_header_that_a_spreadsheet_wrote_is_one(write_recording, some_readings, tmp_path):
    file = write_recording(some_readings(3), name="all/one") / "readings.csv"
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))
    assert not find(tmp_path / "all")[0].damaged


def test_the_state_tells_a_missing_descriptor_from_a_recording_cut_off(
    write_recording, some_readings, tmp_path
):
    for name in ("sound", "open", "bare"):
        write_recording(some_readings(3), complete=name != "open", name=f"all/{name}")
    (tmp_path / "all" / "bare" / "datapackage.json").unlink()
    states = {summary.name: summary.state for summary in find(tmp_path / "all")}
    assert states == {"sound": "", "open": "cut off", "bare": "no description"}


def test_a_long_recording_is_summed_up_without_reading_it(
    write_recording, some_readings, tmp_path, monkeypatch
):
    write_recording(some_readings(5000), name="all/long")
    monkeypatch.setattr("logger.recording.store._LONGEST_LINE", 64)
    assert find(tmp_path / "all")[0].duration_s == pytest.approx(499.9)


def test_a_named_folder_must_be_there_and_the_usual_one_need_not(tmp_path, monkeypatch):
    monkeypatch.setenv("EVENCUP_DATA", str(tmp_path / "later"))
    assert find() == []
    with pytest.raises(BadInputError, match="cannot be read"):
        find(tmp_path / "typo")

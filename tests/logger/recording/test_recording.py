from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.reading import JOURNAL_HEADER, Reading, Status, parse_journal_line
from logger.errors import BadInputError
from logger.recording import Meta, Recording
from logger.recording.readings_file import _GOOD_LINES, _careful, _fast, read_lines

LOST = "scale: the link was lost at 0:01 for good"


@pytest.fixture
def brew(write_recording, some_readings):
    lines = some_readings(5)
    lines.insert(2, Reading("kettle", 0.15, 93.5, "°C", Status.STABLE, 12.25))
    lines.append(Reading("scale", 0.6, float("nan"), "g", Status.LOST))
    return write_recording(lines)


def test_a_recording_gives_its_readings_in_the_order_of_the_file(brew):
    recording = Recording.open(brew)
    assert list(recording.readings.columns) == JOURNAL_HEADER.split(",")
    assert recording.readings["time_s"].tolist() == [0.0, 0.1, 0.15, 0.2, 0.3, 0.4, 0.6]
    assert (recording.name, recording.problems) == ("brew", (LOST,))
    assert recording.channels() == ("scale", "kettle")
    assert recording.channels("°C") == ("kettle",)
    assert recording.weight_channel == "scale"


def test_arrays_hold_measurements_alone(brew):
    time_s, value = Recording.open(brew).arrays("scale")
    assert time_s.dtype == value.dtype == np.float64
    assert time_s.tolist() == [0.0, 0.1, 0.2, 0.3, 0.4]
    assert value.tolist() == [0.0, 0.1, 0.2, 0.3, 0.4]
    value[0] = 99.0  # a copy: the recording stays as it is


def test_a_channel_that_is_not_there_is_answered_with_those_that_are(brew):
    recording = Recording.open(brew)
    assert recording.channel("kettle")["device_time_s"].tolist() == [12.25]
    with pytest.raises(BadInputError, match=r"no channel 'slurry'\. Its channels are: scale, kettle"):
        recording.channel("slurry")


def test_the_weight_is_the_first_channel_in_grams_where_none_is_called_scale(write_recording, some_readings):
    lines = [Reading("kettle", 0.0, 93.0, "°C"), *some_readings(2, "server"), *some_readings(2, "cup")]
    assert Recording.open(write_recording(lines)).weight_channel == "server"
    assert Recording.open(write_recording(lines[:1], name="hot")).weight_channel is None


def test_the_folder_or_either_file_in_it_may_be_named(brew):
    for path in (brew, str(brew), brew / "readings.csv", brew / "datapackage.json"):
        assert Recording.open(path).path == brew


def test_any_spreadsheet_reads_the_same(brew):
    # An outside check: pandas with nothing but its defaults.
    plain = pd.read_csv(brew / "readings.csv")
    recording = Recording.open(brew)
    assert plain["value"].equals(recording.readings["value"])
    assert plain["channel"].tolist() == recording.readings["channel"].tolist()


def test_an_empty_recording_opens(write_recording):
    recording = Recording.open(write_recording([]))
    assert recording.readings.empty
    assert recording.channels() == ()
    assert recording.weight_channel is None
    with pytest.raises(BadInputError, match="none: it holds no reading"):
        recording.arrays("scale")


def test_a_recording_that_was_never_closed_opens(write_recording, some_readings):
    recording = Recording.open(write_recording(some_readings(3), complete=False))
    assert len(recording.readings) == 3
    assert recording.problems == ("cut off: the recording was never closed, or is still running",)


@pytest.mark.parametrize("cut", range(1, 18))
def test_a_torn_last_line_is_dropped_and_said(write_recording, some_readings, cut):
    folder = write_recording(some_readings(3), complete=False)
    data = (folder / "readings.csv").read_bytes()
    (folder / "readings.csv").write_bytes(data[:-cut])
    recording = Recording.open(folder)
    torn = len(b"0.2,scale,0.2,g,,\n") - cut
    assert recording.readings["value"].tolist() == [0.0, 0.1]
    assert f"the last line is incomplete and was dropped ({torn} bytes)" in recording.problems[1]


def test_zeros_that_a_power_cut_left_at_the_end_are_dropped(write_recording, some_readings):
    folder = write_recording(some_readings(3), complete=False)
    with (folder / "readings.csv").open("ab") as file:
        file.write(b"\0" * 4096)
    recording = Recording.open(folder)
    assert len(recording.readings) == 3
    assert "(4096 bytes)" in recording.problems[1]


def test_a_change_after_closing_is_said(brew):
    text = (brew / "readings.csv").read_text()
    (brew / "readings.csv").write_text(text.replace("0.3,g", "0.4,g"))
    assert Recording.open(brew).problems == ("readings.csv has changed since the recording was closed", LOST)


def test_a_spreadsheet_that_saved_it_with_its_own_line_ends_does_no_harm(brew):
    data = (brew / "readings.csv").read_bytes()
    before = Recording.open(brew).readings
    (brew / "readings.csv").write_bytes(b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n"))
    recording = Recording.open(brew)
    pd.testing.assert_frame_equal(recording.readings, before)
    assert recording.problems == ("readings.csv has changed since the recording was closed", LOST)


@pytest.mark.parametrize(
    ("bad", "what"),
    [
        (b"0.1,scale,0.1,g", "4 fields where 6 are expected"),
        (b"0.1,scale,0.1,g,,,", "7 fields where 6 are expected"),
        (b"0.1,scale,abc,g,,", "value 'abc' is not a number"),
        (b"0.1,scale,nan,g,,", "value 'nan' is not finite"),
        (b"inf,scale,1.0,g,,", "time_s 'inf' is not finite"),
        (b"0.1,scale,1.0,stone,,", "unit 'stone' is neither g nor °C"),
        (b"0.1,scale,1.0,g,perhaps,", "status 'perhaps' is unknown"),
        (b"0.1,s c,1.0,g,,", "channel 's c' is not a name"),
        (b"", "1 fields where 6 are expected"),
        (b"\xff\xfe", "it is not UTF-8 text"),
        (b'"0.1",scale,1.0,g,,', "is not a number"),
    ],
)
def test_a_damaged_line_is_named_and_the_others_can_be_salvaged(write_recording, some_readings, bad, what):
    folder = write_recording(some_readings(4))
    lines = (folder / "readings.csv").read_bytes().split(b"\n")
    lines[2] = bad
    (folder / "readings.csv").write_bytes(b"\n".join(lines))
    with pytest.raises(BadInputError) as raised:
        Recording.open(folder)
    assert f"{folder}/readings.csv, line 3: " in str(raised.value)
    assert what in str(raised.value)
    assert "evencup export --salvage" in str(raised.value)
    salvaged = Recording.open(folder, salvage=True)
    assert salvaged.readings["value"].tolist() == [0.0, 0.2, 0.3]
    assert "1 unreadable line was left out: 3" in salvaged.problems


def test_without_a_descriptor_the_readings_still_open(brew):
    (brew / "datapackage.json").unlink()
    recording = Recording.open(brew)
    assert len(recording.readings) == 7
    assert recording.meta == Meta(software="")
    assert recording.problems[0].startswith("datapackage.json is missing")


def test_a_damaged_descriptor_is_named_and_the_readings_can_be_salvaged(brew):
    (brew / "datapackage.json").write_text('{\n "title": "Brew",\n oops')
    with pytest.raises(BadInputError, match=r"datapackage.json, line 3: is not JSON"):
        Recording.open(brew)
    recording = Recording.open(brew, salvage=True)
    assert len(recording.readings) == 7
    assert "left out" in recording.problems[0]


def test_what_is_no_recording_is_answered_with_what_to_do(tmp_path, brew):
    with pytest.raises(BadInputError, match="there is no such folder"):
        Recording.open(tmp_path / "nothing")
    with pytest.raises(BadInputError, match="holds recordings but is none"):
        Recording.open(tmp_path)
    (tmp_path / "other.csv").write_text("a,b\n1,2\n")
    with pytest.raises(BadInputError, match=r"is a file.*evencup import"):
        Recording.open(tmp_path / "other.csv")
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadInputError, match=r"there is no readings\.csv in it"):
        Recording.open(tmp_path / "empty")


def test_a_strange_header_is_shown_beside_the_right_one(brew):
    (brew / "readings.csv").write_text("time,weight\n0,1\n")
    with pytest.raises(BadInputError, match=rf"line 1: is 'time,weight', where.*{JOURNAL_HEADER}"):
        Recording.open(brew)
    (brew / "readings.csv").write_text("")
    with pytest.raises(BadInputError, match="is empty"):
        Recording.open(brew)


@given(st.binary(max_size=400) | st.text(alphabet='0.,1eE+-gscale°C\n\r"N_ a', max_size=200).map(str.encode))
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_stands_below_the_header_it_opens_or_is_bad_input(tmp_path, data):
    folder = tmp_path / "any"
    folder.mkdir(exist_ok=True)
    (folder / "readings.csv").write_bytes(JOURNAL_HEADER.encode() + b"\n" + data)
    try:
        whole = Recording.open(folder)
    except BadInputError:
        whole = None
    salvaged = Recording.open(folder, salvage=True)
    if whole is not None:
        pd.testing.assert_frame_equal(whole.readings, salvaged.readings)


journal_field = st.text(alphabet="0123456789.e+-,gscale°C", max_size=12)


@given(st.lists(st.lists(journal_field, min_size=5, max_size=7).map(",".join), max_size=4))
@settings(max_examples=300, deadline=None)
def test_the_quick_way_takes_only_what_the_careful_way_reads_alike(lines):
    body = "".join(f"{line}\n" for line in lines).encode()
    if _GOOD_LINES.fullmatch(body):
        frame, bad = _careful(body)
        assert not bad
        pd.testing.assert_frame_equal(_fast(body), frame)


@given(st.floats(allow_nan=False, allow_infinity=False))
@settings(max_examples=300, deadline=None)
def test_the_quick_way_reads_each_number_exactly(number):
    body = f"1.0,NA,{number!r},g,,{number!r}\n0.0,null,,g,,\n".encode()
    lines = read_lines(Path("readings.csv"), JOURNAL_HEADER.encode() + b"\n" + body)
    assert lines.frame["value"][0] == parse_journal_line(body.decode().split("\n")[0]).value == number
    assert lines.frame["channel"].tolist() == ["NA", "null"]


def test_a_hundred_thousand_readings_open_in_half_a_second(write_recording):
    one = Reading("scale", 0.0, 123.4, "g", Status.STABLE, 5.5)
    folder = write_recording(replace(one, time_s=n / 10, value=n / 7) for n in range(100_000))
    Recording.open(folder)
    start = time.process_time()  # other work may share the processor
    recording = Recording.open(folder)
    assert time.process_time() - start < 0.5
    assert len(recording.readings) == 100_000
    assert recording.problems == ()

from __future__ import annotations

import math
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from logger.errors import BadInputError, FailureError
from logger.recording import Imported, Recording, import_csv

LOAD_CELLS = Path(__file__).parents[2] / "data" / "membrane_load_cells"
NOW = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)

PLAIN = ([0.0, 0.5, 1.0], [0.0, 1.5, 3.25])


def imported(tmp_path: Path, content: str | bytes, **options) -> tuple[Imported, Recording]:
    path = tmp_path / "brew.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    result = import_csv(path, tmp_path / "into", now=NOW, **options)
    return result, Recording.open(result.path)


def scale(recording: Recording) -> tuple[list[float], list[float]]:
    time_s, value = recording.arrays("scale")
    return time_s.tolist(), value.tolist()


DIALECTS = {
    "comma": "time_s,weight_g\n0,0\n0.5,1.5\n1.0,3.25\n",
    "semicolon and decimal comma": "Zeit (s);Gewicht (g)\n0,0;0,0\n0,5;1,5\n1,0;3,25\n",
    "tab": "t\tmass\n0\t0\n0.5\t1.5\n1.0\t3.25\n",
    "bar": "elapsed | scale\n0 | 0\n0.5 | 1.5\n1.0 | 3.25\n",
    "line ends of Windows": "time,weight\r\n0,0\r\n0.5,1.5\r\n1.0,3.25\r\n",
    "line ends of old": "time,weight\r0,0\r0.5,1.5\r1.0,3.25\r",
    "UTF-8 with a mark": "time,weight\n0,0\n0.5,1.5\n1.0,3.25\n".encode("utf-8-sig"),
    "UTF-16 with a mark": "time,weight\n0,0\n0.5,1.5\n1.0,3.25\n".encode("utf-16"),
    "UTF-16 little": "time,weight\n0,0\n0.5,1.5\n1.0,3.25\n".encode("utf-16-le"),
    "UTF-16 big": "time,weight\n0,0\n0.5,1.5\n1.0,3.25\n".encode("utf-16-be"),
    "Latin-1": "time,weight,température °C\n0,0,\n0.5,1.5,\n1.0,3.25,\n".encode("latin-1"),
    "no headings": "0,0\n0.5,1.5\n1.0,3.25\n",
    "quoted": '"time","weight"\n"0","0"\n"0.5","1.5"\n"1.0","3.25"\n',
    "quoted decimal comma": '"time","weight"\n"0","0"\n"0,5","1,5"\n"1,0","3,25"\n',
    "comments and empty lines": "# my scale\n\ntime,weight\n0,0\n# a pause\n0.5,1.5\n\n1.0,3.25\n",
    "lines of another width above": "Scale 7\nSerial: 12\ntime,weight,notes\n0,0,\n0.5,1.5,\n1.0,3.25,\n",
    "units in a second row": "Time,Mass\ns,g\n0,0\n0.5,1.5\n1.0,3.25\n",
    "units in the cells": "time,weight\n0 s,0.0 g\n0.5 s,1.5 g\n1.0 s,3.25g\n",
    "other columns": "n,time,stable,weight,battery\n1,0,yes,0,90\n2,0.5,no,1.5,90\n3,1.0,yes,3.25,89\n",
    "capitals": "TIME,WEIGHT\n0,0\n0.5,1.5\n1.0,3.25\n",
    "milliseconds": "time_ms,weight\n0,0\n500,1.5\n1000,3.25\n",
    "microseconds": "time (µs),weight\n0,0\n500000,1.5\n1000000,3.25\n",
    "kilograms": "time,Weight (kg)\n0,0\n0.5,0.0015\n1.0,0.00325\n",
    "a number of the instrument in brackets": "time,Weight [Ch:0 -> 1046]\n0,0\n0.5,1.5\n1.0,3.25\n",
    "minutes and seconds": "time,weight\n0:00,0\n0:00.5,1.5\n0:01.0,3.25\n",
    "time of day": "Uhrzeit;Gewicht\n07:30:00;0\n07:30:00,5;1,5\n07:30:01;3,25\n",
    "time of day, a.m. and p.m.": "time,weight\n11:59:59.5 AM,0\n12:00:00.0 PM,1.5\n12:00:00.5 PM,3.25\n",
    "over midnight": "time,weight\n23:59:59.5,0\n00:00:00,1.5\n00:00:00.5,3.25\n",
    "dates": "date,weight\n2026-11-25 07:30:00,0\n2026-11-25 07:30:00.5,1.5\n2026-11-25 07:30:01,3.25\n",
    "dates with T and Z": "t,g\n2026-11-25T07:30:00Z,0\n"
    "2026-11-25T07:30:00.5Z,1.5\n2026-11-25T07:30:01Z,3.25\n",
    "dates of the day first": "t;g\n25.11.2026 07:30:00;0\n"
    "25.11.2026 07:30:00,5;1,5\n25.11.2026 07:30:01;3,25\n",
    "dates of the month first": "t,g\n11/25/2026 7:30:00 AM,0\n"
    "11/25/2026 7:30:00.5 AM,1.5\n11/25/2026 7:30:01 AM,3.25\n",
    "date and time apart": "Date,Time,Weight\n"
    "2026-11-25,07:30:00,0\n2026-11-25,07:30:00.5,1.5\n2026-11-25,07:30:01,3.25\n",
    "seconds since 1970": "timestamp,weight\n1795591800.0,0\n1795591800.5,1.5\n1795591801.0,3.25\n",
    "milliseconds since 1970": "timestamp,weight\n1795591800000,0\n1795591800500,1.5\n1795591801000,3.25\n",
}


@pytest.mark.parametrize("content", DIALECTS.values(), ids=DIALECTS.keys())
def test_a_strangers_csv_is_understood_with_no_options(tmp_path, content):
    result, recording = imported(tmp_path, content)
    times, weights = scale(recording)
    assert times == pytest.approx(PLAIN[0], abs=1e-6)
    assert weights == pytest.approx(PLAIN[1])
    assert (result.rows, result.skipped, recording.problems) == (3, 0, ())


def test_pandas_reads_the_same_numbers(tmp_path):
    # Outside check: a general library on the same text.
    text = DIALECTS["semicolon and decimal comma"]
    imported(tmp_path, text)
    frame = pd.read_csv(tmp_path / "brew.csv", sep=";", decimal=",")
    assert frame.to_numpy().T.tolist() == [list(column) for column in PLAIN]


@pytest.mark.parametrize(
    ("unit", "one_in_g"),
    [
        # The international avoirdupois pound is 0.45359237 kg, its ounce a sixteenth of that: NIST Special
        # Publication 811, appendix B.8.
        ("lb", 453.59237),
        ("oz", 453.59237 / 16),
        ("kg", 1000.0),
        ("mg", 0.001),
        ("g", 1.0),
    ],
)
def test_units_of_weight_become_grams(tmp_path, unit, one_in_g):
    _, recording = imported(tmp_path, f"time,weight ({unit})\n0,1\n1,2\n")
    assert scale(recording)[1] == pytest.approx([one_in_g, 2 * one_in_g], rel=1e-15)
    (tmp_path / "given").mkdir()
    _, recording = imported(tmp_path / "given", "time,weight\n0,1\n1,2\n", unit=unit)
    assert scale(recording)[1] == pytest.approx([one_in_g, 2 * one_in_g], rel=1e-15)


def test_temperatures_become_channels_in_celsius(tmp_path):
    # Fixed points: water boils at 212 °F = 100 °C, freezes at 32 °F; 273.15 K = 0 °C by definition.
    text = "time_s,weight,Kettle temp (°F),slurry_temp_K,probe [C]\n0,1,212,273.15,20.5\n1,2,32,,21\n"
    result, recording = imported(tmp_path, text)
    assert recording.channels("°C") == ("kettle", "slurry", "thermometer")
    assert recording.arrays("kettle")[1] == pytest.approx([100.0, 0.0])
    assert recording.arrays("slurry")[1].tolist() == [0.0]
    assert recording.arrays("thermometer")[1].tolist() == [20.5, 21.0]
    assert result.understood["temperatures"].startswith("'Kettle temp (°F)' as kettle (in °F)")


def test_a_column_may_be_named_by_heading_or_number(tmp_path):
    text = "when,first,second,warm\n0,1,9,90\n1,2,8,91\n"
    for number, names in enumerate([("when", "second", "warm"), ("1", "3", "4"), ("WHEN", " Second ", "4")]):
        (tmp_path / str(number)).mkdir()
        time_column, weight_column, temperature = names
        _, recording = imported(
            tmp_path / str(number),
            text,
            time_column=time_column,
            weight_column=weight_column,
            temperature_columns=[temperature],
        )
        assert scale(recording) == ([0.0, 1.0], [9.0, 8.0])
        assert recording.arrays("warm")[1].tolist() == [90.0, 91.0]


def test_a_weight_that_was_wanted_is_not_taken_for_one_that_was_measured(tmp_path):
    _, recording = imported(tmp_path, "time,target weight,weight (g),weight rate\n0,9,1,5\n1,9,2,5\n")
    assert scale(recording)[1] == [1.0, 2.0]


def test_repeated_seconds_and_jumps_stay_as_they_are(tmp_path):
    text = "time,weight\n14:25:13,0\n14:25:13,1\n14:25:15,2\n14:25:15,3\n14:25:16,4\n"
    assert scale(imported(tmp_path, text)[1]) == ([0, 0, 2, 2, 3], [0, 1, 2, 3, 4])


def test_cells_that_cannot_be_read_are_skipped_and_counted(tmp_path):
    text = "time,weight\n0,1\n1,\n2,--\nabc,4\n4,nan\n5,OL\n6,7\n7\n"
    result, recording = imported(tmp_path, text)
    assert scale(recording) == ([0.0, 6.0], [1.0, 7.0])
    assert (result.rows, result.skipped, result.first_skipped_line) == (2, 6, 3)
    assert recording.meta.imported["skipped"] == 6


def test_a_row_with_a_temperature_and_no_weight_keeps_the_temperature(tmp_path):
    result, recording = imported(tmp_path, "time,weight,temp\n0,1,90\n1,,91\n2,3,92\n")
    assert result.skipped == 0
    assert recording.arrays("thermometer")[0].tolist() == [0.0, 1.0, 2.0]
    assert scale(recording)[0] == [0.0, 2.0]


@pytest.mark.parametrize(
    ("text", "first_s"),
    [
        ("time_s,weight\n12.5,1\n13,2\n", 12.5),
        ("time_s,weight\n-3,1\n0,2\n", -3.0),
        ("time,weight\n1:10,1\n1:11,2\n", 70.0),
        ("time_s,weight\n90000,1\n90001,2\n", 0.0),  # a device's uptime
        ("time,weight\n07:30:00,1\n07:30:01,2\n", 0.0),
        ("t,weight\n1795591800,1\n1795591801,2\n", 0.0),
    ],
)
def test_a_time_axis_with_a_zero_of_its_own_is_kept(tmp_path, text, first_s):
    assert scale(imported(tmp_path, text)[1])[0][0] == first_s


def test_the_start_is_known_where_the_file_says_it(tmp_path):
    moment = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)
    zoned = "t,g\n2026-11-25T08:30:00+01:00,1\n2026-11-25T08:30:01+01:00,2\n"
    _, recording = imported(tmp_path, zoned)
    assert recording.meta.started == moment
    assert recording.name == "2026-11-25-0730-brew"
    _, recording = imported(tmp_path, "t,g\n1795591800,1\n1795591801,2\n")
    assert recording.meta.started == moment
    _, recording = imported(tmp_path, "t,g\n2026-11-25 07:30:00,1\n2026-11-25 07:30:01,2\n")
    assert recording.meta.started == datetime(2026, 11, 25, 7, 30).astimezone(UTC)  # this computer's zone
    _, recording = imported(tmp_path, "t,g\n03/04/2026 07:30:00,1\n03/04/2026 07:30:01,2\n")
    assert recording.meta.started is None  # the third of April, or the fourth of March?
    assert scale(recording)[0] == [0.0, 1.0]


def test_whole_numbers_in_large_steps_are_milliseconds_unless_told(tmp_path):
    text = "time,weight\n" + "".join(f"{n * 100},{n}\n" for n in range(300))
    result, recording = imported(tmp_path, text)
    assert scale(recording)[0][:3] == [0.0, 0.1, 0.2]
    assert "ms (whole numbers in steps of 100)" in result.understood["time"]
    (tmp_path / "told").mkdir()
    _, recording = imported(tmp_path / "told", text, time_unit="s")
    assert scale(recording)[0][:3] == [0.0, 100.0, 200.0]


def test_what_was_guessed_is_told_and_kept(tmp_path):
    result, recording = imported(tmp_path, DIALECTS["semicolon and decimal comma"])
    assert result.understood == {
        "encoding": "utf-8",
        "delimiter": "semicolon",
        "time": "'Zeit (s)' (numbers in s)",
        "weight": "'Gewicht (g)' (in g)",
    }
    assert recording.meta.imported == {"file": "brew.csv", "rows": 3, "skipped": 0, **result.understood}
    assert recording.meta.title == "brew"
    assert recording.meta.complete
    assert recording.meta.counters == {"readings.scale": 3}


@pytest.mark.parametrize(
    ("content", "what"),
    [
        ("", "is empty"),
        ("\n\n", "is empty"),
        ("# nothing but a comment\n", "is empty"),
        ("time,weight\n", "has headings and nothing below them"),
        ("time,weight\ns,g\n", "has headings and nothing below them"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "is not a text file"),
        (b"PK\x03\x04" + bytes(range(256)), "is not a text file"),
        ("time,pressure\n0,1\n", "no weight column was recognised among: 'time', 'pressure'"),
        ("time,pressure\n0,1\n", "--weight-column"),
        ("weight,pressure\n0,1\n", "no time column was recognised among: 'weight', 'pressure'"),
        ("weight\n1\n2\n", "no time column was recognised among: 'weight'"),
        ("Number of load cells,Time\n9,1\n", "no weight column"),
        ("time,weight\nabc,1\ndef,2\n", "line 2: neither this row nor any other can be read: time 'abc'"),
        ("time,weight\n0,x\n1,y\n", "line 2: neither this row nor any other can be read"),
        ("time,weight\n0,1\n2,2\n1.5,3\n", "line 4: the time goes back from '2' to '1.5'"),
        ("time,weight\n07:30:10,1\n07:30:09,2\n", "line 3: the time goes back from '07:30:10' to '07:30:09'"),
        ("date,weight\n2026-11-25,1\n2026-11-25,2\n", "the times are dates alone, all of them '2026-11-25'"),
        ("time,weight\n5,1\n5,2\n", "line 2: the times do not move: in 'time' all 2 rows say the same"),
        ("time,weight (stone)\n0,1\n1,2\n", "the weight 'weight (stone)' is in 'stone'"),
        ("time,Weight [t]\n0,1\n1,2\n", "the weight 'Weight [t]' is in 't'"),
        ("time,weight (troy oz)\n0,1\n1,2\n", "is in 'troy oz', which evencup does not convert"),
        ("time,weight\ns,gn\n0,1\n1,2\n", "is in 'gn'"),
        ("time,weight\n,st\n0,1\n1,2\n", "is in 'st'"),
        ("date,weight\n2026-11-25 07:30:01,1\n2026-11-24 07:30:02,1\n", "line 3: the time goes back"),
    ],
)
def test_what_cannot_be_used_is_named_and_nothing_is_written(tmp_path, content, what):
    with pytest.raises(BadInputError) as raised:
        imported(tmp_path, content)
    assert what in str(raised.value)
    assert str(tmp_path / "brew.csv") in str(raised.value)
    assert not (tmp_path / "into").exists()


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"unit": "stone"}, "--unit: 'stone' is no unit that is known here. Known: g, kg, mg, oz, lb"),
        ({"unit": "s"}, "--unit: 's' is no unit"),
        ({"time_unit": "g"}, "--time-unit: 'g' is no unit"),
        ({"delimiter": "ab"}, "--delimiter: 'ab' is not one character"),
        ({"weight_column": "mass"}, "there is no column 'mass' among: 'time', 'weight'"),
        ({"time_column": "3"}, "there is no column '3' among"),
        ({"temperature_columns": ["kettle"]}, "there is no column 'kettle' among"),
    ],
)
def test_an_option_that_makes_no_sense_is_named(tmp_path, options, what):
    with pytest.raises(BadInputError) as raised:
        imported(tmp_path, "time,weight\n0,1\n", **options)
    assert what in str(raised.value)


@pytest.mark.parametrize("delimiter", [";", "semicolon"])
def test_the_delimiter_may_be_given(tmp_path, delimiter):
    assert scale(imported(tmp_path, "time;weight\n0;1\n1;2\n", delimiter=delimiter)[1])[1] == [1.0, 2.0]


def test_a_weight_in_grams_wins_over_one_in_a_unit_that_is_not_converted(tmp_path):
    assert scale(imported(tmp_path, "time,weight (st),weight (g)\n0,9,1\n1,9,2\n")[1])[1] == [1.0, 2.0]


def test_a_unit_that_is_given_wins_over_one_that_is_not_converted(tmp_path):
    assert scale(imported(tmp_path, "time,weight (t)\n0,1\n1,2\n", unit="g")[1])[1] == [1.0, 2.0]


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(BadInputError, match=r"nothing\.csv: cannot be read: No such file"):
        import_csv(tmp_path / "nothing.csv", tmp_path)


def test_nothing_half_written_is_left_where_the_disk_refuses(tmp_path, monkeypatch):
    def full(*_: object) -> None:
        raise FailureError("readings.csv", "could not write the reading", "Free some space.")

    monkeypatch.setattr("logger.recording.journal.Journal.append", full)
    with pytest.raises(FailureError):
        imported(tmp_path, "time,weight\n0,1\n1,2\n")
    assert list((tmp_path / "into").iterdir()) == []


def test_real_load_cells_with_the_time_of_day_alone(tmp_path):
    result = import_csv(LOAD_CELLS / "time_of_day.csv", tmp_path, now=NOW)
    time_s, weight_g = Recording.open(result.path).arrays("scale")
    # Outside check: the same column, read by pandas.
    frame = pd.read_csv(LOAD_CELLS / "time_of_day.csv")
    expected = pd.to_timedelta(frame["Time"]).dt.total_seconds()
    np.testing.assert_array_equal(time_s, expected - expected[0])
    np.testing.assert_array_equal(weight_g, frame["Weight"])
    assert (result.rows, result.skipped) == (300, 0)
    assert set(np.diff(time_s)) == {0.0, 1.0, 2.0}
    assert Recording.open(result.path).meta.started is None


def test_real_load_cells_with_dates(tmp_path):
    result = import_csv(LOAD_CELLS / "dates.csv", tmp_path, now=NOW)
    recording = Recording.open(result.path)
    frame = pd.read_csv(LOAD_CELLS / "dates.csv", parse_dates=["Date"])
    expected = (frame["Date"] - frame["Date"][0]).dt.total_seconds()
    np.testing.assert_allclose(recording.arrays("scale")[0], expected, atol=1e-6)
    assert "taken for g" in result.understood["weight"]
    assert result.path.name.startswith("2024-06-20-")


def test_a_real_table_without_weight_is_answered_with_its_columns(tmp_path):
    with pytest.raises(
        BadInputError, match=r"'Measurement Start time \(24hr time\)', 'Pressure'.*--weight-col"
    ):
        import_csv(LOAD_CELLS / "no_weight.csv", tmp_path)


PIECES = (
    'time|weight|date|temp [F]|0|1.5|-3|1,5|07:30:00|0:45|2026-11-25 07:30:00|25.11.2026|99/99/99|--||"|#| |'
    "2026-13-45T99:99:99|1e999|١٢|1795591800|99999999999999999999|0000-00-00|12:00:00 PM|T07:00:00|nan|inf|"
    "20261125T0730|1_0|18 g|0.5 s|1,234.5|²|9:99:99|25.11.|11/25/2026 7:30 AM|1e308|-1e-9|+|.|1.2.3|°F"
)
pieces = st.sampled_from(PIECES.split("|"))
rows = st.lists(st.lists(pieces, min_size=1, max_size=4), max_size=8)
tables = st.builds(
    lambda rows, d, end: end.join(d.join(row) for row in rows).encode(),
    rows,
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
headed = tables.map(lambda table: b"time,weight\n" + table)


@given(
    st.binary(max_size=300)
    | st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace"))
    | tables
    | headed
)
@settings(max_examples=500, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_the_file_it_is_imported_or_is_bad_input(tmp_path, data):
    path = tmp_path / "any.csv"
    path.write_bytes(data)
    try:
        result = import_csv(path, tmp_path / "into", now=NOW)
    except BadInputError:
        return
    recording = Recording.open(result.path)
    assert recording.problems == ()
    time_s, _ = recording.arrays(recording.channels()[0])
    assert (np.diff(time_s) >= 0).all()


values = st.floats(min_value=-5000, max_value=5000).map(lambda value: round(value, 3))


@given(
    st.lists(st.tuples(st.floats(0, 1000).map(lambda t: round(t, 3)), values), min_size=1, max_size=30),
    st.booleans(),
)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_pandas_writes_comes_in_exactly(tmp_path, points, german):
    points = sorted(points, key=lambda point: point[0])
    assume(len(points) == 1 or points[0][0] < points[-1][0])
    frame = pd.DataFrame(points, columns=["time_s", "weight_g"])
    path = tmp_path / "frame.csv"
    frame.to_csv(path, index=False, sep=";" if german else ",", decimal="," if german else ".")
    recording = Recording.open(import_csv(path, tmp_path / "into", now=NOW).path)
    time_s, weight_g = recording.arrays("scale")
    assert time_s.tolist() == [time for time, _ in points]
    assert weight_g.tolist() == [weight for _, weight in points]
    assert not any(map(math.isnan, weight_g))


def test_the_room_is_cheap_to_enter():
    loaded = "import sys, logger.recording; from logger.recording import Journal, Recorder, Meta, find; "
    heavy = "print([name for name in ('pandas', 'numpy', 'pyarrow') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", loaded + heavy], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

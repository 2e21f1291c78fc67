from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from drivers.reading import Reading, Status
from logger.errors import BadInputError
from logger.recording import Meta, Recording, export_csv, export_parquet, export_recording, import_csv


@pytest.fixture
def brew(write_recording) -> Recording:
    lines = [
        Reading("scale", 0.0, 0.1 + 0.2, "g", Status.STABLE, 7.25),
        Reading("kettle", 0.0, 93.5, "°C"),
        Reading("scale", 0.1, 5.5, "g"),
        Reading("kettle", 0.25, 93.25, "°C"),
        Reading("scale", 0.3, 9999.0, "g", Status.OVERLOAD),
        Reading("scale", 0.4, 6.0, "g"),
        Reading("scale", 0.4, 6.5, "g"),
    ]
    return Recording.open(write_recording(lines))


def test_the_long_csv_holds_every_reading_exactly(brew, tmp_path):
    path = export_recording(brew, tmp_path / "out.csv")
    read = pd.read_csv(path, keep_default_na=False, na_values={"value": [""], "device_time_s": [""]})
    pd.testing.assert_frame_equal(read, brew.readings)
    assert b"\r" not in path.read_bytes()


def test_the_wide_csv_has_a_column_for_each_channel_on_all_times(brew, tmp_path):
    read = pd.read_csv(export_recording(brew, tmp_path / "out.csv", wide=True))
    assert list(read.columns) == ["time_s", "scale_g", "kettle_c"]
    assert read["time_s"].tolist() == [0.0, 0.1, 0.25, 0.3, 0.4, 0.4]
    nan = np.nan
    # An overload is no measurement; of two readings at one time both are kept.
    np.testing.assert_array_equal(read["scale_g"], [0.1 + 0.2, 5.5, nan, nan, 6.0, 6.5])
    np.testing.assert_array_equal(read["kettle_c"], [93.5, nan, 93.25, nan, nan, nan])


def test_a_wide_csv_comes_back_by_import(brew, tmp_path):
    path = export_recording(brew, tmp_path / "out.csv", wide=True)
    again = Recording.open(import_csv(path, tmp_path / "into").path)
    for channel in ("scale", "kettle"):
        np.testing.assert_array_equal(again.arrays(channel), brew.arrays(channel))


def test_parquet_holds_every_reading_and_what_is_known_of_the_brew(brew, tmp_path):
    path = export_recording(brew, tmp_path / "out.parquet")
    table = pq.read_table(path)  # outside check: pyarrow itself
    assert table.column("time_s").to_pylist() == brew.readings["time_s"].tolist()
    assert table.column("unit").to_pylist() == brew.readings["unit"].tolist()
    assert table.column("value").to_pylist() == brew.readings["value"].tolist()
    meta = json.loads(table.schema.metadata[b"evencup"])
    assert (meta["name"], meta["title"], meta["complete"]) == ("brew", "Brew", True)
    pd.testing.assert_frame_equal(pd.read_parquet(path), brew.readings)


@pytest.mark.parametrize("name", ["out.csv", "out.parquet"])
def test_a_long_export_comes_back_by_import_as_it_was(brew, tmp_path, name):
    path = export_recording(brew, tmp_path / name)
    result = import_csv(path, tmp_path / "into")
    again = Recording.open(result.path)
    pd.testing.assert_frame_equal(again.readings, brew.readings)
    assert (result.rows, result.skipped, again.problems) == (7, 0, ())
    if name == "out.parquet":
        assert again.meta.title == brew.meta.title
        assert again.meta.imported["file"] == "out.parquet"


def test_a_wide_parquet_comes_back_by_import_with_what_is_known(write_recording, brew, tmp_path):
    known = replace(
        Meta(title="Brew", coffee="invented", dose_g=18.0, target_name="v.toml", target_text="title = 'V'\n"),
        started=datetime(2026, 11, 25, 7, 30, tzinfo=UTC),
        marks={"first drip": 0.25},
        complete=True,
    )
    path = export_recording(replace(brew, meta=known), tmp_path / "out.parquet", wide=True)
    result = import_csv(path, tmp_path / "into")
    again = Recording.open(result.path)
    assert replace(again.meta, imported={}, counters={}) == known
    assert "delimiter" not in result.understood
    for channel in ("scale", "kettle"):
        np.testing.assert_array_equal(again.arrays(channel), brew.arrays(channel))


def test_a_parquet_of_pandas_with_dates_comes_in(tmp_path):
    times = pd.date_range("2026-11-25 07:30", periods=4, freq="500ms", tz="UTC")
    pd.DataFrame({"time": times, "Weight (kg)": [0.0, 0.001, None, 0.003]}).to_parquet(tmp_path / "a.parquet")
    result = import_csv(tmp_path / "a.parquet", tmp_path / "into")
    time_s, weight_g = Recording.open(result.path).arrays("scale")
    assert (time_s.tolist(), weight_g.tolist()) == ([0.0, 0.5, 1.5], [0.0, 1.0, 3.0])
    assert (result.skipped, result.first_skipped_line) == (1, 4)


def test_a_damaged_export_is_named_by_line(brew, tmp_path):
    path = export_recording(brew, tmp_path / "out.csv")
    path.write_text(path.read_text().replace("5.5", "five"))
    with pytest.raises(BadInputError, match=r"out\.csv, line 4: value 'five' is not a number"):
        import_csv(path, tmp_path / "into")
    (tmp_path / "no.parquet").write_text("time,weight")
    with pytest.raises(BadInputError, match="is not a Parquet file"):
        import_csv(tmp_path / "no.parquet", tmp_path / "into")


def test_an_empty_recording_goes_out_too(write_recording, tmp_path):
    empty = Recording.open(write_recording([], name="empty"))
    for number, wide in enumerate((False, True)):
        assert len(pd.read_csv(export_recording(empty, tmp_path / f"{number}.csv", wide=wide))) == 0
        assert pq.read_table(export_recording(empty, tmp_path / f"{number}.parquet", wide=wide)).num_rows == 0


def test_a_file_that_is_there_stays_unless_forced(brew, tmp_path):
    path = tmp_path / "out.csv"
    path.write_text("somebody's work")
    with pytest.raises(BadInputError, match=r"exists already.*--force"):
        export_recording(brew, path)
    assert path.read_text() == "somebody's work"
    export_recording(brew, path, force=True)
    assert path.read_text().startswith("time_s,channel")


def test_an_unknown_ending_or_folder_is_answered_with_what_to_do(brew, tmp_path):
    with pytest.raises(BadInputError, match=r"no format ends in '.xlsx'. Known endings are: .csv, .parquet"):
        export_recording(brew, tmp_path / "out.xlsx")
    with pytest.raises(BadInputError, match="its folder does not exist"):
        export_recording(brew, tmp_path / "nowhere" / "out.csv")


def test_nothing_is_left_behind_when_it_goes_wrong(brew, tmp_path, monkeypatch):
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(pd.DataFrame, "to_csv", broken)
    (tmp_path / "out").mkdir()
    with pytest.raises(RuntimeError):
        export_csv(brew, tmp_path / "out" / "out.csv")
    assert list((tmp_path / "out").iterdir()) == []


def test_the_format_may_be_chosen_without_the_name(brew, tmp_path):
    assert export_csv(brew, tmp_path / "a.txt").read_text().startswith("time_s,")
    assert pq.read_table(export_parquet(brew, tmp_path / "a.bin")).num_rows == 7

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta, timezone

import frictionless
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.reading import Reading, Status
from logger.errors import BadInputError, FailureError
from logger.recording import Meta, Recording
from logger.recording.descriptor import PROFILE, Descriptor, write_descriptor
from logger.recording.descriptor_reader import read_descriptor

BREW = Meta(
    title="Drei Güsse",
    started=datetime(2026, 11, 25, 7, 30, 1, 250000, tzinfo=UTC),
    coffee="invented, washed",
    dose_g=18.0,
    grind="24 clicks",
    notes="first of the day\nwith a second line",
    target_text='title = "V"\n',
    target_name="V",
    boils_c=94.98,
    devices=({"address": "simulated:v.toml", "channels": ["scale"], "lines_rejected": 2},),
    software="evencup 0.1.0",
    complete=True,
    ended="ended by itself",
    marks={"first drip": 12.5},
    counters={"readings.scale": 3},
    imported={"file": "brew.csv"},
)


def test_what_is_known_of_a_brew_comes_back_as_it_was(tmp_path):
    descriptor = Descriptor(BREW, 123, "sha256:00")
    write_descriptor(tmp_path, "brew", descriptor)
    assert read_descriptor(tmp_path / "datapackage.json") == descriptor


texts = st.text(max_size=20)


@given(
    st.builds(
        Meta,
        title=texts.filter(bool),
        started=st.none() | st.datetimes(timezones=st.just(UTC)).map(lambda t: t.replace(microsecond=0)),
        coffee=texts,
        dose_g=st.none() | st.floats(allow_nan=False, allow_infinity=False),
        notes=texts,
        target_text=texts,
        complete=st.booleans(),
        marks=st.dictionaries(texts, st.floats(allow_nan=False, allow_infinity=False), max_size=3),
        counters=st.dictionaries(texts, st.integers(), max_size=3),
    )
)
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_words_and_numbers_come_back(tmp_path, meta):
    write_descriptor(tmp_path, "brew", Descriptor(meta))
    assert read_descriptor(tmp_path / "datapackage.json").meta == meta


def test_text_that_no_encoding_can_hold_does_no_harm(tmp_path):
    # A lone surrogate is what Python makes of a command line that was no UTF-8.
    write_descriptor(tmp_path, "brew", Descriptor(Meta(title="caf\udce9")))
    assert read_descriptor(tmp_path / "datapackage.json").meta.title == "caf\udce9"


def test_it_is_a_data_package_by_the_published_standard(write_recording):
    # Outside check: frictionless, the reference implementation of the Data Package standard. It checks the
    # descriptor by the standard's profile, then size, hash, and each cell by its field's type.
    lines = [
        Reading("scale", 0.0, 0.0, "g"),
        Reading("kettle", 0.05, 93.5, "°C", Status.STABLE, 1.0),
        Reading("scale", 0.1, float("nan"), "g", Status.LOST),
    ]
    folder = write_recording(lines, BREW)
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.flatten(["type", "note"]) == []
    (resource,) = frictionless.Package(str(folder / "datapackage.json")).resources
    rows = resource.read_rows()
    assert [row["value"] for row in rows] == pytest.approx([0, 93.5, None])
    assert [row["status"] for row in rows] == [None, "stable", "lost"]


def test_the_published_check_sees_a_change_and_a_broken_line(write_recording, some_readings):
    folder = write_recording(some_readings(3), BREW)
    file = folder / "readings.csv"
    file.write_text(file.read_text().replace("0.1,scale,0.1,g", "0.1,scale,x,g"))
    types = {kind for (kind,) in frictionless.validate(str(folder / "datapackage.json")).flatten(["type"])}
    assert "hash-count" in types


def test_an_open_recordings_descriptor_is_a_data_package_too(write_recording, some_readings):
    folder = write_recording(some_readings(3), complete=False)
    assert frictionless.validate(str(folder / "datapackage.json")).valid


def test_it_names_the_standard_and_the_file(write_recording, some_readings):
    folder = write_recording(some_readings(3), BREW)
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    assert package["$schema"] == PROFILE
    assert package["created"] == package["clock"]["started"] == "2026-11-25T07:30:01.250Z"
    (resource,) = package["resources"]
    assert resource["bytes"] == (folder / "readings.csv").stat().st_size
    assert resource["hash"].startswith("sha256:")
    assert package["sources"] == [{"title": "brew.csv"}]


def test_keys_that_are_not_known_are_passed_over(tmp_path):
    path = tmp_path / "datapackage.json"
    path.write_text(
        '{"title": "V", "tomorrow": [1], "brew": {"dose_g": 18, "roast": "light"}, "licenses": []}'
    )
    meta = read_descriptor(path).meta
    assert (meta.title, meta.dose_g, meta.complete) == ("V", 18.0, False)


def test_a_local_start_is_understood_as_the_moment_that_it_is(tmp_path):
    plus_one = timezone(timedelta(hours=1))
    write_descriptor(
        tmp_path, "b", Descriptor(Meta(title="V", started=datetime(2026, 11, 25, 8, tzinfo=plus_one)))
    )
    assert read_descriptor(tmp_path / "datapackage.json").meta.started == datetime(
        2026, 11, 25, 7, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "line 1: is not JSON"),
        ("[1]", "the file is [1], which is not an object"),
        ('{"title": 3}', "title is 3, which is not text"),
        ('{"brew": {"dose_g": "abc"}}', "brew.dose_g is 'abc', which is not a number"),
        ('{"brew": {"dose_g": true}}', "brew.dose_g is True, which is not a number"),
        ('{"brew": {"dose_g": NaN}}', "brew.dose_g is nan, which is not a number"),
        ('{"brew": {"notes": []}}', "brew.notes is [], which is not text"),
        ('{"complete": "yes"}', "complete is 'yes', which is not true or false"),
        ('{"clock": {"started": "today"}}', "clock.started is 'today', which is not a date and time"),
        ('{"marks": {"a": "b"}}', "marks.a is 'b', which is not a number"),
        ('{"counters": {"a": 1.5}}', "counters.a is 1.5, which is not a whole number"),
        ('{"devices": {}}', "devices is {}, which is not a list"),
        ('{"devices": [1]}', "devices[0] is 1, which is not an object"),
        ('{"resources": [{"path": "readings.csv", "bytes": "9"}]}', "resources.bytes is '9'"),
        ('{"a": ' + "9" * 5000 + "}", "a number in it is too long"),
        ('{"brew": {"dose_g": 1' + "0" * 400 + "}}", "which is not a number"),
        ("[" * 100_000, "nested too deeply"),
    ],
)
def test_what_is_wrong_is_named_by_file_and_key(tmp_path, text, what):
    path = tmp_path / "datapackage.json"
    path.write_text(text)
    with pytest.raises(BadInputError) as raised:
        read_descriptor(path)
    assert str(raised.value).startswith(str(path))
    assert what in str(raised.value)


@given(
    st.binary(max_size=100)
    | st.recursive(
        st.none() | st.booleans() | st.floats() | texts,
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    ["brew", "clock", "started", "marks", "title", "resources", "path", "complete"]
                ),
                inner,
                max_size=4,
            )
        ),
        max_leaves=8,
    ).map(lambda value: json.dumps(value).encode())
)
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_stands_in_the_file_it_is_read_or_is_bad_input(tmp_path, data):
    path = tmp_path / "datapackage.json"
    path.write_bytes(data)
    try:
        read_descriptor(path)
    except BadInputError as error:
        assert str(path) in error.where


def test_a_refused_write_leaves_the_old_descriptor(tmp_path, monkeypatch):
    write_descriptor(tmp_path, "brew", Descriptor(BREW))

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FailureError, match="No space left on device"):
        write_descriptor(tmp_path, "brew", Descriptor(Meta(title="new")))
    assert read_descriptor(tmp_path / "datapackage.json").meta == BREW
    assert [file.name for file in tmp_path.iterdir()] == ["datapackage.json"]


def test_the_descriptor_may_be_read_by_whoever_may_read_the_journal(write_recording, some_readings):
    folder = write_recording(some_readings(1))
    assert (folder / "datapackage.json").stat().st_mode == (folder / "readings.csv").stat().st_mode
    assert Recording.open(folder).problems == ()

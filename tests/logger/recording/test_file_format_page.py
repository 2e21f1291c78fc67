"""The page that describes the format is held to it."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import pytest

from drivers.reading import JOURNAL_HEADER, Status
from logger.recording import Meta, Recording
from logger.recording.descriptor import SAMPLING, SAMPLING_FIELD, Descriptor, write_descriptor
from logger.recording.note_kinds import INTENSITIES, KINDS, WORDS
from logger.recording.notes import NOTES, parse_notes

PAGE = (Path(__file__).parents[3] / "docs" / "file-format.md").read_text(encoding="utf-8")


def test_the_example_on_the_page_opens(tmp_path):
    (example,) = re.findall(r"```csv\n(.*?)```", PAGE, re.DOTALL)
    (tmp_path / "readings.csv").write_text(example, encoding="utf-8")
    recording = Recording.open(tmp_path)
    assert recording.channels() == ("scale", "kettle")
    assert recording.arrays("scale")[1].tolist() == [0.0, 1.2]


@pytest.mark.parametrize("field", JOURNAL_HEADER.split(","))
def test_every_field_is_described(field):
    assert re.search(rf"^\| `{field}` \| `[^`]+` \| \S", PAGE, re.MULTILINE)


@pytest.mark.parametrize("status", [status.value for status in Status if status.value])
def test_every_status_is_described(status):
    assert f"`{status}`" in PAGE


def test_the_times_of_sampling_are_described():
    assert f"## {SAMPLING}" in PAGE
    assert re.search(rf"^\| `{SAMPLING_FIELD}` \| `[^`]+` \| \S", PAGE, re.MULTILINE)


def test_every_property_of_the_descriptor_is_described(tmp_path):
    meta = Meta(title="V", imported={"file": "brew.csv"})
    write_descriptor(tmp_path, "v", Descriptor(dataclasses.replace(meta, complete=True), 1, "sha256:0"))
    package = json.loads((tmp_path / "datapackage.json").read_text(encoding="utf-8"))
    for name in package:
        assert re.search(rf"^\| `{re.escape(name)}[`.\[]", PAGE, re.MULTILINE), name
    for name in package["brew"]:
        assert re.search(rf"`(brew)?\.{name}`", PAGE), name


def test_the_notes_on_the_page_are_read():
    (example,) = re.findall(r"```json\n(.*?)```", PAGE, re.DOTALL)
    noted = parse_notes(example.encode())
    assert noted.problems == ()
    assert noted.strength is not None and noted.strength.readings == (1.35, 1.37)
    assert noted.marks == {"dry": 178.0}
    assert noted.tastes[0].words == {"flavour": ("plum", "dried fig")}


def test_every_field_of_a_note_is_described():
    (section,) = re.findall(rf"^## {NOTES}$(.*?)^## ", PAGE, re.DOTALL | re.MULTILINE)
    names = {field.name for kind in KINDS.values() for field in dataclasses.fields(kind)}
    put_together = {"when", "what", "intensities", "words"}  # a taste's own names stand in their place
    for name in {*names - put_together, *KINDS, *INTENSITIES, *WORDS, "what"}:
        assert f"`{name}`" in section, name

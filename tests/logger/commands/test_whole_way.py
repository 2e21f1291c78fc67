"""From a target to simulated brews, reports, overlays, exports, and back in: every command on real files."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow.parquet as pq
import pytest

from logger.compare import assess
from logger.recording import Recording
from logger.target import read_target
from tests.logger.commands.program import Done, Evencup
from tests.logger.commands.targets import TARGETS

pytestmark = pytest.mark.long


def strict(text: str) -> Any:
    """Read JSON as the standard (RFC 8259) has it: no NaN, no Infinity."""

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON")

    return json.loads(text, parse_constant=refuse)


def json_lines(done: Done) -> list[Any]:
    assert done.out.endswith("\n")
    return [strict(line) for line in done.out.splitlines()]


@pytest.mark.parametrize(("method", "pours"), [("pour-over", 3), ("espresso", 1), ("immersion", 1)])
def test_simulated_reported_replayed(evencup: Evencup, method: str, pours: int) -> None:
    target = evencup.here / "a target.toml"  # a blank in a path is no trouble
    target.write_text(TARGETS[method], encoding="utf-8")
    done = evencup.ok("simulate", target, "--seed", "3", "--level", "easy")
    assert done.lines == [str(done.path)]
    recording = Recording.open(done.path)
    assert recording.meta.complete
    assert recording.meta.notes == "simulated: this brew never happened"
    assert recording.meta.target_text == TARGETS[method]

    (line,) = json_lines(evencup.ok("report", done.path.name, "--json"))
    assert line["method"] == method
    assert len(line["pours"]) == pours
    replayed = evencup.ok("replay", done.path.name, "--speed", "max")
    assert replayed.out.count("  poured ") == pours
    assert read_target(target).title in replayed.lines


def test_replay_ends_with_the_report(evencup: Evencup, brewed: Path) -> None:
    text = evencup.ok("report", brewed).out
    assert text.splitlines()[0] == "Three pours"
    assert evencup.ok("replay", brewed, "--speed", "max").out.endswith(text)


def test_one_line_of_json_for_each_recording(evencup: Evencup, three_pours: Path) -> None:
    made = evencup.ok("simulate", three_pours, "--count", "3", "--level", "easy").lines
    assert len(set(made)) == 3
    lines = json_lines(evencup.ok("report", *made, "--json"))
    assert [line["recording"] for line in lines] == [Path(path).name for path in made]
    listed = json_lines(evencup.ok("list", "--json"))
    assert {line["path"] for line in listed} == set(made)
    assert [line["started"] for line in listed] == sorted((line["started"] for line in listed), reverse=True)
    (overlay,) = json_lines(evencup.ok("overlay", three_pours, *made, "--json"))
    assert len(overlay["brews"]) == 3
    assert "too few to say how even the cups are" in evencup.ok("overlay", three_pours, *made).out


def test_pages(evencup: Evencup, three_pours: Path, brewed: Path) -> None:
    done = evencup.ok("report", brewed, "--html")
    assert done.lines == [f"{brewed.name}.html"]
    page = (evencup.here / done.lines[0]).read_text(encoding="utf-8")
    assert page[:15].lower() == "<!doctype html>"
    assert "Three pours" in page

    (evencup.here / "pages").mkdir()
    done = evencup.ok("overlay", three_pours, brewed, "--html", "--json", "--to", "pages")
    strict(done.out)  # the page's path is on the other stream, so that the JSON is alone
    assert done.err.splitlines() == ["pages/three-pours-overlay.html"]
    assert (evencup.here / "pages" / "three-pours-overlay.html").stat().st_size > 10_000
    assert evencup.ok("report", brewed, "--html", "--to", "mine.html").lines == ["mine.html"]


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere every name is text")
def test_a_name_that_is_no_text_is_no_trouble(evencup: Evencup, brewed: Path) -> None:
    odd = Path(os.fsdecode(os.fsencode(brewed) + b"\xff"))
    brewed.rename(odd)
    strict(evencup.ok("report", odd, "--json").out)
    evencup.ok("report", odd, "--html", "--to", "page.html")
    assert "Three pours" in evencup.ok("list").out


def test_exported_and_imported_back(evencup: Evencup, brewed: Path) -> None:
    readings = Recording.open(brewed).readings
    evencup.ok("export", brewed, "brew.csv")
    evencup.ok("export", brewed, "brew.parquet")
    evencup.ok("export", brewed, "wide.csv", "--wide")
    pd.testing.assert_frame_equal(pq.read_table(evencup.here / "brew.parquet").to_pandas(), readings)
    wide = pd.read_csv(evencup.here / "wide.csv")
    assert sorted(wide.columns) == ["kettle_c", "scale_g", "slurry_c", "time_s"]
    assert wide["scale_g"].notna().sum() == (readings["channel"] == "scale").sum()
    assert evencup.run("export", brewed, "brew.csv").code == 2
    evencup.ok("export", brewed, "brew.csv", "--force")

    for name in ("brew.csv", "brew.parquet"):
        back = Recording.open(evencup.here / evencup.ok("import", name, "--into", "back").path)
        pd.testing.assert_frame_equal(back.readings, readings)
        analysis, original = assess(back).analysis, assess(Recording.open(brewed)).analysis
        assert analysis.pours == original.pours


def test_a_damaged_recording_can_be_salvaged(evencup: Evencup, brewed: Path) -> None:
    file = brewed / "readings.csv"
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[9] = "rubbish\n"
    file.write_text("".join(lines), encoding="utf-8")
    done = evencup.ok("export", brewed, "kept.csv", "--salvage")
    assert "line" in done.err and "10" in done.err
    assert len((evencup.here / "kept.csv").read_text(encoding="utf-8").splitlines()) == len(lines) - 1


def test_targets(evencup: Evencup, three_pours: Path, brewed: Path) -> None:
    assert "Three pours: 15 g to 240 g, in order" in evencup.ok("target", "check", three_pours).out
    assert "bloom" in evencup.ok("target", "draw", three_pours).out

    done = evencup.ok("target", "scale", three_pours, "20", "--to", "bigger.toml")
    assert done.lines == ["bigger.toml"]
    bigger = read_target(evencup.here / "bigger.toml")
    assert bigger.total_g == pytest.approx(240.0 * 20 / 15)
    assert evencup.ok("target", "scale", three_pours, "20").out == bigger.text

    evencup.ok("target", "learn", brewed, "--title", "As it was", "--to", "learnt.toml")
    learnt = read_target(evencup.here / "learnt.toml")
    poured = assess(Recording.open(brewed)).analysis.pours
    assert learnt.title == "As it was"
    assert [stage.to_g for stage in learnt.stages] == pytest.approx([pour.to_g for pour in poured], abs=2.6)
    assert evencup.ok("target", "check", "learnt.toml", "bigger.toml").code == 0
    (line,) = json_lines(evencup.ok("report", brewed, "--target", "learnt.toml", "--json"))
    assert line["target"] == "As it was"


def test_demo(evencup: Evencup) -> None:
    done = evencup.ok("demo", "--into", "shown")
    (page,) = (evencup.here / "shown").glob("*.html")
    (folder,) = [path for path in (evencup.here / "shown").iterdir() if path.is_dir()]
    assert f"shown/{page.name}" in done.lines[-1] and f"shown/{folder.name}" in done.lines[-2]
    assert done.out.count("  poured ") == 4
    assert "stages inside" in done.out
    assert not evencup.data.exists()


def test_devices(evencup: Evencup) -> None:
    done = evencup.ok("devices", "--bluetooth", "0")
    assert "Without hardware: --scale 'simulated:TARGET?seed=3'" in done.out
    for line in evencup.ok("devices", "--bluetooth", "0", "--json").lines:
        found = strict(line)
        assert found["kind"] in ("serial", "hid", "bluetooth")
        assert not found["address"] or found["address"] in done.out


def test_version(evencup: Evencup) -> None:
    from importlib.metadata import version

    assert evencup.ok("--version").out == f"evencup {version('evencup')}\n"

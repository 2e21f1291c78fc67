"""An espresso's figures and the thermometers' in the terminal, on the page and in the line of JSON."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from rich.console import Console

from drivers.simulated import EASY
from drivers.simulated.temperatures import lifted
from logger.compare import Brew, assess
from logger.recording import Recording
from logger.show.figures.brew_figure import brew_figure
from logger.show.pages.report_page import report_page
from logger.show.plain_data.json_line import json_line
from logger.show.terminal.summary import print_summary
from logger.show.words.shot_words import shot_rows, shot_sentences
from logger.show.words.temperature_words import temperature_sentences
from tests.logger.compare.brews import FOUR_POURS, SHOT, simulated

SEED = 4
"""A brew with twelve seconds of getting ready before its first water."""

GUIDE = (Path(__file__).parents[3] / "docs" / "read-a-report.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def espresso() -> Brew:
    return assess(simulated(SHOT, EASY, seed=3))


@pytest.fixture(scope="module")
def four_pours() -> Brew:
    """Its kettle's probe was put in 9 s before the first water, and lifted while the second pour began."""
    whole = simulated(FOUR_POURS, EASY, seed=SEED)
    start_s = assess(whole).analysis.start_s
    assert start_s is not None
    rows = whole.readings[whole.readings["channel"] == "kettle"]
    grid_s = np.arange(0.0, float(rows["time_s"].max()) + 1.0, 0.02)
    water_c = np.interp(grid_s, rows["time_s"], rows["value"])
    out_s = [(-1.0, start_s - 9.0), (start_s + 37.0, start_s + 56.0)]
    shown_c = lifted(grid_s, water_c, out_s, 1.5, 8.0, 22.0)
    readings = whole.readings.copy()
    readings.loc[rows.index, "value"] = np.round(np.interp(rows["time_s"], grid_s, shown_c), 1)
    return assess(Recording(whole.path, whole.meta, (), pd.DataFrame(readings)))


def printed(brew: Brew, encoding: str = "utf-8") -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    print_summary(brew, Console(file=file, width=80), UTC)
    file.flush()
    return " ".join(raw.getvalue().decode(encoding).replace("\u00a0", " ").split())


def test_the_terminal_says_how_the_shot_ran(espresso: Brew) -> None:
    text = printed(espresso)
    assert "The shot: first drip" in text
    assert "from the pump) with" in text
    assert "at rest;" in text
    assert "g/s on average" in text


def test_the_page_tables_the_shot(espresso: Brew) -> None:
    page = report_page(espresso, UTC)
    assert "<h2>The shot</h2>" in page
    for figure, value, _ in shot_rows(espresso.shots[0], espresso.analysis.start_s or 0.0):
        assert figure in page
        assert value in page
    assert "<h2>The shot</h2>" not in report_page(assess(simulated(FOUR_POURS, EASY, seed=1)), UTC)


def test_what_cannot_be_told_of_a_shot_is_said(espresso: Brew) -> None:
    readings = espresso.recording.readings
    cut = readings[readings["time_s"] < (espresso.analysis.start_s or 0.0) + 12.0]
    meta = espresso.recording.meta
    brew = assess(Recording(espresso.recording.path, meta, (), cut.reset_index(drop=True)))
    rows = {figure: value for figure, value, _ in shot_rows(brew.shots[0], brew.analysis.start_s or 0.0)}
    assert (rows["stop"], rows["yield at the stop"], rows["average flow"]) == ("cannot be told",) * 3
    said = shot_sentences(brew.shots, brew.analysis.start_s or 0.0)
    assert said[1] == "The readings end while espresso still ran: no stop was seen."
    assert json.loads(json_line(brew))["shots"][0]["stop_s"] is None


def test_the_terminal_says_what_the_thermometers_show(four_pours: Brew) -> None:
    text = printed(four_pours)
    assert "°C ±" in text
    assert "when the pours started; at 0:45.2 probe out of the water." in text
    assert "Kettle: it cooled by" in text
    assert "Kettle: the probe was out of the water from 0:3" in text
    assert "by its rise when it was put in, the probe lags by 1.5 s" in text
    assert "on average" in text
    assert "at the lowest" in text
    assert "Kettle: 9" in printed(four_pours, encoding="ascii")


def test_the_picture_says_why_a_probe_did_not_show_the_water(four_pours: Brew) -> None:
    """The slurry's waits in the dry coffee and comes up once the water is there; the kettle's was lifted."""
    said = [note.text for note in brew_figure(four_pours).layout.annotations if note.text]
    assert "slurry still comes up" in said
    assert "kettle out of the water" in said
    assert "slurry out of the water" not in said


def test_a_loose_plug_is_counted_and_not_listed(four_pours: Brew) -> None:
    kettle = four_pours.thermometers["kettle"]
    history = replace(kettle.probe.history, out=kettle.probe.out[-1:] * 20)
    loose = replace(kettle, probe=replace(kettle.probe, history=history))
    said = [words for words in temperature_sentences({"kettle": loose}, 0.0) if "out of the water" in words]
    assert said[-1].startswith("Kettle: the probe was out of the water 20 times")


def test_the_page_tables_the_kettle_at_every_pour(four_pours: Brew) -> None:
    page = report_page(four_pours, UTC)
    assert "<h2>Temperatures</h2>" in page
    assert "at its start" in page
    assert "probe out of the water" in page
    for words in temperature_sentences(four_pours.thermometers, four_pours.analysis.start_s or 0.0):
        assert words.split(";")[0] in page


def test_the_mean_of_a_pour_leaves_out_the_probe_in_the_air(four_pours: Brew) -> None:
    pours = json.loads(json_line(four_pours))["pours"]
    assert pours[0]["temperature_c"]["kettle"] > 90.0
    assert pours[1]["temperature_c"]["kettle"] is None or pours[1]["temperature_c"]["kettle"] > 90.0


def test_the_line_of_json_has_every_figure_and_the_guide_every_key(espresso: Brew, four_pours: Brew) -> None:
    shot, brew = json.loads(json_line(espresso)), json.loads(json_line(four_pours))
    assert list(shot) == list(brew)
    (one,) = shot["shots"]
    assert one["shot_time_s"] == pytest.approx(one["stop_s"] - one["pump_s"], abs=1e-3)
    assert one["yield_at_rest_g"] == pytest.approx(shot["total_g"], abs=1e-3)
    assert brew["shots"] == []
    kettle, slurry = brew["thermometers"]["kettle"], brew["thermometers"]["slurry"]
    assert [stretch["kind"] for stretch in kettle["probe_out"]] == ["before", "lifted"]
    assert kettle["at_pours"][1]["start"]["lack"] == "probe-out"
    assert kettle["cooling"]["room_from"] == "probe"
    assert slurry["contact"]["least_c"] < slurry["contact"]["mean_c"]
    keys = {*one, *kettle, *kettle["probe_out"][0], *kettle["at_pours"][0], *kettle["at_pours"][0]["start"]}
    keys |= {*kettle["cooling"], *slurry["contact"], "shots", "thermometers"}
    assert sorted(key for key in keys if f"`{key}`" not in GUIDE) == []

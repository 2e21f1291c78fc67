from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import logger
from logger.errors import BadInputError
from logger.recording import Recording
from logger.show.notebook import PracticeSet

TUESDAY = sorted(Path("recordings/tuesday-practice").iterdir())
TARGET = Path("recordings/four-pours.toml")


@pytest.fixture(scope="module")
def tuesday(tmp_path_factory: pytest.TempPathFactory) -> PracticeSet:
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("EVENCUP_CACHE", str(tmp_path_factory.mktemp("cache")))
        # newest first, a folder, a text and an opened recording among them
        given = [str(TUESDAY[8]), *reversed(TUESDAY[1:8]), Recording.open(TUESDAY[0])]
        return logger.practice(TARGET, given)


def test_brews_stand_in_the_order_in_which_they_were_brewed(tuesday: PracticeSet) -> None:
    assert tuesday.brews["recording"].tolist() == [path.name for path in TUESDAY]
    assert tuesday.brews["started"].is_monotonic_increasing
    assert tuesday.brews["inside"].tolist()[:2] == [False, False]


def test_pours_and_stages_say_what_the_report_says(tuesday: PracticeSet) -> None:
    from logger.compare import assess
    from logger.target import read_target

    brew = assess(Recording.open(TUESDAY[3]), target=read_target(TARGET))
    pours = tuesday.pours[tuesday.pours["brew"] == 4]
    assert pours["to_g"].tolist() == [pour.to_g for pour in brew.analysis.pours]
    assert brew.comparison is not None
    stages = tuesday.stages[(tuesday.stages["brew"] == 4) & (tuesday.stages["stage"] == "pour 2")]
    wanted = {each.quantity: each.actual for each in brew.comparison.stages[2].deviations}
    assert dict(zip(stages["quantity"], stages["actual"], strict=True)) == pytest.approx(wanted)


def test_evenness_is_that_of_the_frames(tuesday: PracticeSet) -> None:
    # pandas as the outside check of mean and sample standard deviation
    rows = tuesday.stages[(tuesday.stages["stage"] == "pour 2") & (tuesday.stages["quantity"] == "to_g")]
    even = tuesday.evenness.set_index(["stage", "quantity"]).loc[("pour 2", "to_g")]
    assert even["n"] == 9
    assert even["mean"] == pytest.approx(rows["actual"].mean())
    assert even["sd"] == pytest.approx(rows["actual"].std())
    assert even["average_low"] < even["mean"] < even["average_high"]


def test_figures_are_those_of_the_page(tuesday: PracticeSet) -> None:
    figure = tuesday.curves("kettle", shown=[2])
    assert TUESDAY[1].name in [trace.name for trace in figure.data]
    chart = tuesday.control_chart("pour 2", "to_g")
    points = next(trace for trace in chart.data if trace.name == "brew")
    rows = tuesday.stages[(tuesday.stages["stage"] == "pour 2") & (tuesday.stages["quantity"] == "to_g")]
    assert np.allclose(points.y, rows["actual"], atol=1e-3)


def test_what_there_is_not_is_said_with_what_there_is(tuesday: PracticeSet) -> None:
    with pytest.raises(BadInputError, match="weight, off-plan, flow, kettle, slurry"):
        tuesday.curves("tea")
    with pytest.raises(BadInputError, match="frame evenness"):
        tuesday.control_chart("pour 9", "to_g")


def test_page_and_json_are_those_of_the_command(tuesday: PracticeSet) -> None:
    assert tuesday.json()["n"] == 9
    assert "Four pours: 9 brews" in tuesday.page()
    assert repr(tuesday).startswith("<PracticeSet 'Four pours', 9 brews: ")


def test_import_logger_stays_light() -> None:
    code = (
        "import sys, logger; print([n for n in ('numpy', 'pandas', 'plotly', 'scipy') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

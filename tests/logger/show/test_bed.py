"""The bed on the page, in the terminal and in the line of JSON."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from logger.compare import Brew
from logger.compare.beds import bed_change
from logger.curve import Drawdown, read_bed
from logger.show.figures.brew_figure import brew_figure, shown_end_s
from logger.show.pages.report_page import report_page
from logger.show.plain_data.json_line import json_line, report_json
from logger.show.terminal.summary import print_summary
from logger.show.words.bed_words import bed_sentences, change_sentence, drawdown_sentence
from tests.logger.curve.bed.drained import LEAD_S, drained, shown
from tests.logger.show.conftest import START_S

GUIDE = (Path(__file__).parents[3] / "docs" / "read-a-report.md").read_text(encoding="utf-8")
POURS = ((0.0, 9.4, 5.7), (46.3, 60.5, 6.4), (79.6, 95.0, 5.0), (121.4, 134.0, 6.2))


def with_bed(brew: Brew, tau_s: float = 14.0, last_tau_s: float = 18.0) -> Brew:
    """Give a brew a second scale, under its server."""
    true = drained(POURS, (tau_s, tau_s, 16.0, last_tau_s), 200.0, kept_g=36.0)
    time_s = true.time_s + START_S - LEAD_S
    bed = read_bed(
        shown(time_s, true.water_g, noise_g=0.02),
        shown(time_s, true.beverage_g, noise_g=0.02, seed=2),
        dose_g=18.0,
        response_s=(0.0, 0.0),
    )
    return replace(brew, bed=bed, drawdown=bed.drawdown)


def printed(brew: Brew, width: int = 80) -> str:
    file = io.StringIO()
    print_summary(brew, Console(file=file, width=width))
    return file.getvalue().replace("\u00a0", " ")


def test_the_terminal_says_what_the_bed_held_and_how_it_ran(brew: Brew) -> None:
    text = " ".join(printed(with_bed(brew)).split())
    assert "The bed: 299.6 g in," in text
    assert "g for each g of coffee); first drip at 0:0" in text
    assert "Drawdown: the flow fell below 0.2 g/s" in text
    assert "in tau = 18." in text
    assert "the bed clogged by" in text
    assert max(len(line) for line in printed(with_bed(brew)).splitlines()) <= 80


def test_one_scale_says_what_it_can(brew: Brew) -> None:
    lifted = replace(brew, drawdown=Drawdown(START_S + 134.0, START_S + 190.0, "lift", at_latest=True))
    assert "Drawdown: dry at the latest 56 s after the last pour, at 3:10, when dripper" in printed(lifted)
    assert "Drawdown" not in printed(brew)


def test_a_mark_and_a_bound_are_told_apart() -> None:
    marked = Drawdown(100.0, 150.0, "mark")
    assert drawdown_sentence(marked, 0.0).endswith("at 2:30, as the brewer marked.")
    assert "at the latest" in drawdown_sentence(replace(marked, at_latest=True), 0.0)
    unknown = Drawdown(100.0, None, None, why="nothing was lifted")
    assert drawdown_sentence(unknown, 0.0) == "Drawdown: its end cannot be told, nothing was lifted."


def test_a_bed_that_tells_nothing_says_why(brew: Brew) -> None:
    silent = read_bed(([0.0], [0.0]), ([0.0], [0.0]))
    assert bed_sentences(silent, None, 0.0) == ["The bed: cannot be told, the scale has too few readings."]
    assert "The bed: cannot be told" in printed(replace(brew, bed=silent))
    assert report_json(replace(brew, bed=silent))["bed"]["why"] == "the scale has too few readings"


def test_an_even_bed_is_called_even(brew: Brew) -> None:
    text = printed(with_bed(brew, 16.0, 16.0))
    assert "the bed stayed as it was" in " ".join(text.split())


def test_the_page_shows_curves_figures_and_one_caption(brew: Brew) -> None:
    page = report_page(with_bed(brew))
    assert "<h2>The bed</h2>" in page
    assert "Where water in and beverage out stand far apart" in page
    assert "after pour" in page
    assert "<h2>The bed</h2>" not in report_page(brew)


def test_the_figure_has_two_more_panels(brew: Brew) -> None:
    plain, figure = brew_figure(brew), brew_figure(with_bed(brew))
    names = [trace.name for trace in figure.data]
    assert {"water in", "beverage out", "held", "percolation flow", "fitted tail"} <= set(names)
    assert not {"water in", "held"} & {trace.name for trace in plain.data}
    held = next(trace for trace in figure.data if trace.name == "held")
    assert np.nanmax(held.y) == pytest.approx(float(np.nanmax(with_bed(brew).bed.held_g)), abs=0.5)  # type: ignore[union-attr]
    assert shown_end_s(with_bed(brew)) >= 195.0


def test_the_line_of_json_has_the_figures_and_the_guide_has_their_keys(brew: Brew) -> None:
    data = json.loads(json_line(with_bed(brew)))
    bed, drawdown = data["bed"], data["drawdown"]
    assert bed["water_in_g"] == pytest.approx(bed["beverage_out_g"] + bed["held_g"], abs=1e-3)
    assert drawdown["tau_s"] == pytest.approx(18.0, rel=0.03)
    assert drawdown["by"] == "flow"
    assert [stretch["after_pour"] for stretch in bed["stretches"]] == [1, 2, 3, 4]
    keys = {*bed, *drawdown, *bed["stretches"][0]}
    assert sorted(key for key in keys if f"`{key}`" not in GUIDE) == []


def test_without_a_second_scale_the_keys_are_null(brew: Brew) -> None:
    data = report_json(brew)
    assert data["bed"] is None
    assert data["drawdown"] is None


def test_a_change_is_told_with_its_uncertainty(brew: Brew) -> None:
    change = bed_change([with_bed(brew), with_bed(brew, last_tau_s=24.0)])
    assert change is not None
    said = change_sentence(change).replace("\u00a0", " ")
    assert "18." in said
    assert "+6." in said or "+5.9" in said
    assert "finer grind" in said
    same = bed_change([with_bed(brew), with_bed(brew)])
    assert same is not None
    assert "no more than the fits are unsure of" in change_sentence(same)

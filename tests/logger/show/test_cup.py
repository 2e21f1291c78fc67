"""The cup on the page, in the terminal and as JSON."""

from __future__ import annotations

import io
import json
import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from rich.console import Console

from logger.compare import Brew
from logger.compare.cups import cup_of, cups_of
from logger.cup.known import Known, Source
from logger.recording.note_kinds import StrengthNote, TasteNote, TextNote, WeighedNote, What
from logger.recording.notes import Note, Noted
from logger.show.figures.cup_figure import cup_figures, ring
from logger.show.pages.cup_page import cups_page
from logger.show.pages.report_page import report_page
from logger.show.plain_data.cup_json import cups_json
from logger.show.plain_data.json_line import report_json
from logger.show.terminal.cup_summary import print_cups
from logger.show.terminal.summary import print_summary
from logger.show.words.cup_words import cup_sentences, known_words, told_apart

NOW = datetime(2026, 11, 25, tzinfo=UTC)
CALLED = TasteNote("called", "AB", {"acidity": 8.0}, {"flavour": ("plum", "cedar")})
TASTED = TasteNote("tasted", "CD", {"acidity": 9.0}, {"flavour": ("plum", "<b>fig</b>")})
WEIGHED = (StrengthNote((1.35,)), WeighedNote("beverage", 264.0))


def noted(brew: Brew, *whats: What) -> Brew:
    notes = Noted(tuple(Note(NOW, what) for what in whats))
    return replace(brew, recording=replace(brew.recording, noted=notes))


def _printed(brews: list[Brew], width: int = 100) -> str:
    console = Console(file=io.StringIO(), width=width)
    print_cups(cups_of(brews), console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_a_number_with_what_it_is_not_known_to() -> None:
    assert known_words(Known(1.354, {Source("reading"): 0.02}), "%", 2) == "1.35 ±0.04\u00a0%"
    assert known_words(Known(1.354), "%", 2) == "1.35\u00a0%"
    assert known_words(None, "%", 2) == "not known"


def test_without_a_note_nothing_is_said(brew: Brew) -> None:
    assert cup_sentences(cup_of(brew)) == []
    assert "In the cup" not in report_page(brew)
    assert report_json(brew)["cup"] is None


def test_the_report_says_strength_and_extraction_with_their_doubt(brew: Brew) -> None:
    told = noted(brew, *WEIGHED)
    page = report_page(told)
    # 1.35 % of 264 g by 18 g: 19.8 % by the definition.
    assert "In the cup" in page and "Extraction 19.8 ±" in page
    assert 'id="cup-percolation"' in page
    console = Console(file=io.StringIO(), width=90)
    print_summary(told, console)
    assert isinstance(console.file, io.StringIO)
    assert "Strength 1.35 ±0.03" in console.file.getvalue()
    given = report_json(told)["cup"]
    assert given["extraction_percent"]["value"] == pytest.approx(19.8)
    assert given["extraction_percent"]["uncertainty"] > 0
    assert given["balance"] == "percolation"
    assert [note["kind"] for note in given["noted"]] == ["strength", "beverage"]


def test_a_nasty_note_is_text(brew: Brew) -> None:
    page = report_page(noted(brew, TASTED, TextNote("<script>alert(1)</script>")))
    assert "<b>fig</b>" not in page and "<script>alert(1)" not in page
    assert "&lt;b&gt;fig" in page


def test_the_words_that_were_called_and_found(brew: Brew) -> None:
    said = cup_sentences(cup_of(noted(brew, CALLED, TASTED)))
    assert "Called by AB: acidity 8; flavour plum, cedar." in said
    assert "Of the flavour called, found: cedar by 0 of 1, plum by 1 of 1." in said


def test_the_chart_names_its_sources_and_holds_every_cup(brew: Brew) -> None:
    cups = [cup_of(noted(brew, StrengthNote((strength,)), WEIGHED[1])) for strength in (1.2, 1.5, 2.4)]
    (figure,) = cup_figures(cups)
    assert (
        "SCAA Golden Cup Standard, 23 December 2015" in figure.caption and "Lockhart 1957" in figure.caption
    )
    drawn = figure.views[0].figure
    (x0, x1), (y0, y1) = drawn.layout.xaxis.range, drawn.layout.yaxis.range
    marks = [trace for trace in drawn.data if trace.mode.startswith("markers")]
    assert len(marks) == 3
    for mark in marks:
        assert x0 < mark.x[0] < x1 and y0 < mark.y[0] < y1


def test_a_line_of_the_chart_is_a_brew_ratio(brew: Brew) -> None:
    """At 1:18 and 20 % a bed that keeps 2 g/g gives 20 / (18 - 2) = 1.25 %."""
    (figure,) = cup_figures([cup_of(noted(brew, *WEIGHED))])
    (line,) = [
        one for one in figure.views[0].figure.data if one.hovertemplate == "brew ratio 1:18<extra></extra>"
    ]
    assert np.interp(20.0, line.x, line.y) == pytest.approx(1.25, abs=1e-6)


def test_an_espresso_is_drawn_against_its_ratio(shot: Brew) -> None:
    told = noted(
        shot, StrengthNote((9.5,), step=0.1), WeighedNote("beverage", 37.2), WeighedNote("dose", 18.0)
    )
    (figure,) = cup_figures([cup_of(told)])
    assert figure.key == "cup-espresso"
    (mark,) = [trace for trace in figure.views[0].figure.data if trace.mode.startswith("markers")]
    assert mark.x[0] == pytest.approx(37.2 / 18.0)


def test_a_ring_holds_the_truth_in_95_of_100_cases() -> None:
    common, own = Source("strength"), Source("beverage")
    x = Known(20.0, {common: 0.4, own: 0.1})
    y = Known(1.3, {common: 0.026})
    ring_x, ring_y = ring(x, y)
    rng = np.random.default_rng(1)
    shared, alone = rng.normal(size=(2, 20_000))
    matrix = np.array([[0.17, 0.4 * 0.026], [0.4 * 0.026, 0.026**2]])
    off = np.vstack([0.4 * shared + 0.1 * alone, 0.026 * shared])
    squared = np.einsum("in,ij,jn->n", off, np.linalg.inv(matrix), off)
    edge = np.vstack([ring_x - 20.0, ring_y - 1.3])
    on_edge = np.einsum("in,ij,jn->n", edge, np.linalg.inv(matrix), edge)
    assert on_edge == pytest.approx(np.full(len(on_edge), on_edge[0]), rel=1e-6)
    assert np.mean(squared <= on_edge[0]) == pytest.approx(0.95, abs=0.01)


def test_could_a_taster_tell() -> None:
    def cup(strength: float, sd: float = 0.02) -> Known:
        return Known(strength, {Source("reading"): sd})

    assert told_apart([cup(1.3)], espresso=False) == ("", "")
    assert told_apart([cup(1.3), cup(1.32)], espresso=False)[0].startswith(
        "A taster could hardly tell the two cups"
    )
    assert "in 2 of 3 pairs" in told_apart([cup(1.2), cup(1.22), cup(1.7)], espresso=False)[0]
    unsure = told_apart([cup(1.2, 0.2), cup(1.4, 0.2)], espresso=False)
    assert "cannot be said" in unsure[0] and "not sure enough" in unsure[1] and "0.24 %" in unsure[1]
    assert "is not said" in told_apart([cup(9.0), cup(9.5)], espresso=True)[0]


def test_several_cups_in_the_terminal_and_on_the_page(brew: Brew) -> None:
    tastes = [replace(TASTED, intensities={"acidity": 8.0 + n}) for n in range(3)]
    brews = [
        noted(brew, StrengthNote((1.30 + n / 50,)), WEIGHED[1], CALLED, taste)
        for n, taste in enumerate(tastes)
    ]
    words = " ".join(_printed(brews).split())
    assert "A taster could hardly tell these cups apart by their strength." in words
    assert "wants 2 more" in words
    assert "cannot be asked yet: 3 cups tasted, at least 4" in words
    page = cups_page(cups_of(brews))
    assert "Called and tasted" in page and "What goes with the taste" in page
    assert json.loads(json.dumps(cups_json(cups_of(brews)), allow_nan=False))["calls"][0]["n"] == 3


@pytest.mark.parametrize("width", [60, 80, 140])
def test_no_line_is_wider_than_the_terminal(brew: Brew, width: int) -> None:
    printed = _printed([noted(brew, *WEIGHED, CALLED, TASTED), noted(brew, *WEIGHED)], width)
    assert max(map(len, printed.splitlines())) <= width


def test_cups_of_which_nothing_is_known(no_brew: Brew, untargeted_brew: Brew) -> None:
    printed = " ".join(_printed([no_brew, untargeted_brew]).split())
    assert "Strength is not noted of any cup." in printed
    assert cup_figures([cup_of(no_brew)]) == []
    given = cups_json(cups_of([no_brew]))["cups"][0]
    assert given["strength_percent"] is None and given["water_g"] is None


def test_every_number_of_the_page_is_in_its_json(brew: Brew) -> None:
    given = cups_json(cups_of([noted(brew, *WEIGHED)]))["cups"][0]
    for key in (
        "strength_percent",
        "extraction_percent",
        "dose_g",
        "water_g",
        "beverage_g",
        "held_g",
        "brew_ratio",
    ):
        assert given[key]["value"] > 0 and given[key]["give_or_take"] >= 0, key
    assert math.isclose(sum(given["extraction_percent"]["shares"].values()), 1.0, abs_tol=2e-3)

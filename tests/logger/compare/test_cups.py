"""What is in the cup of a brew: which weight is taken from where."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from logger.compare import Brew, assess
from logger.compare.cups import cup_of, cups_of, figures_of
from logger.recording import Recording
from logger.recording.note_kinds import MarkNote, StrengthNote, TasteNote, WeighedNote, What
from logger.recording.notes import Note, Noted

PRACTICE = Path(__file__).parents[3] / "recordings"
NOW = datetime(2026, 11, 25, tzinfo=UTC)


@pytest.fixture(scope="module")
def poured() -> Recording:
    return Recording.open(PRACTICE / "tuesday-practice" / "2026-11-24-0705-four-pours")


@pytest.fixture(scope="module")
def pour_over(poured: Recording) -> Brew:
    return assess(poured)


@pytest.fixture(scope="module")
def espresso() -> Brew:
    return assess(Recording.open(PRACTICE / "evening" / "2026-11-24-1830-house-espresso"))


@pytest.fixture(scope="module")
def steeped() -> Brew:
    return assess(Recording.open(PRACTICE / "evening" / "2026-11-24-1910-long-steep"))


def noted(brew: Brew, *whats: What) -> Brew:
    return replace(brew, recording=_noted(brew.recording, *whats))


def _noted(recording: Recording, *whats: What) -> Recording:
    return replace(
        recording, noted=Noted(tuple(Note(NOW + timedelta(seconds=n), what) for n, what in enumerate(whats)))
    )


def test_a_beverage_that_was_weighed(pour_over: Brew) -> None:
    cup = cup_of(noted(pour_over, StrengthNote((1.35,)), WeighedNote("beverage", 208.0))).cup
    assert cup.weights.beverage_from == "noted"
    assert cup.extraction is not None and cup.weights.dose_g is not None
    # By the definition of extraction.
    assert cup.extraction.value == pytest.approx(1.35 * 208.0 / cup.weights.dose_g.value)
    assert cup.held_g is not None
    assert cup.held_g.value == pytest.approx(pour_over.analysis.total_g - 208.0 * (1 - 0.0135))


def test_a_beverage_that_was_not_weighed_is_an_estimate_and_said_to_be_one(pour_over: Brew) -> None:
    estimated = cup_of(noted(pour_over, StrengthNote((1.35,)))).cup
    weighed = cup_of(noted(pour_over, StrengthNote((1.35,)), WeighedNote("beverage", 208.0))).cup
    assert estimated.weights.beverage_from == "estimated"
    assert any("was not weighed" in remark for remark in estimated.remarks)
    assert estimated.extraction is not None and weighed.extraction is not None
    assert estimated.extraction.sd > weighed.extraction.sd


def test_an_espresso_by_its_scale(espresso: Brew) -> None:
    cup = cup_of(noted(espresso, StrengthNote((10.0,), step=0.1))).cup
    shot = espresso.shots[0]
    assert cup.weights.beverage_from == "shot"
    assert cup.weights.beverage_g is not None and cup.weights.beverage_g.value == shot.yield_at_rest_g
    assert cup.balance == "percolation" and cup.held_g is None
    assert cup.ratio is not None and cup.ratio.value == pytest.approx(shot.yield_at_rest_g / 18.0, abs=0.01)


def test_an_immersion_needs_no_beverage(steeped: Brew) -> None:
    cup = cup_of(noted(steeped, StrengthNote((1.35,)))).cup
    assert cup.balance == "immersion" and cup.extraction is not None and cup.weights.dose_g is not None
    water_g = steeped.analysis.total_g
    dissolved_g = 0.0135 * water_g / (1 - 0.0135)
    assert cup.extraction.value == pytest.approx(100 * dissolved_g / cup.weights.dose_g.value)


def test_a_dose_noted_later_goes_before_the_recorded_one(pour_over: Brew) -> None:
    cup = cup_of(noted(pour_over, WeighedNote("dose", 16.0, 0.01))).cup
    assert cup.weights.dose_g is not None and cup.weights.dose_g.value == 16.0


def test_a_noted_mark_says_when_the_bed_was_dry(poured: Recording) -> None:
    brew = assess(_noted(poured, MarkNote("dry", 165.0)))
    assert brew.drawdown is not None and brew.analysis.start_s is not None
    assert brew.drawdown.by == "mark"
    assert brew.drawdown.dry_s == pytest.approx(brew.analysis.start_s + 165.0)
    assert brew.comparison is not None
    (end,) = [one for one in brew.comparison.whole if one.quantity == "end_s"]
    assert end.actual == pytest.approx(165.0, abs=1e-6)


def test_without_notes_there_is_a_cup_without_strength(pour_over: Brew) -> None:
    one = cup_of(pour_over)
    assert one.cup.strength is None and one.cup.extraction is None and not one.tasted.tasted
    figures = figures_of(one)
    assert set(figures) >= {"brew ratio", "time in all, s"}
    assert figures["brew ratio"] == pytest.approx(16.0, abs=0.2)


def test_patterns_are_sought_among_cups_of_one_method(pour_over: Brew, espresso: Brew) -> None:
    brews = [
        noted(pour_over, StrengthNote((1.30 + n / 100,)), TasteNote("tasted", "", {"body": 5.0 + n}, {}))
        for n in range(5)
    ]
    brews += [noted(espresso, StrengthNote((9.0,)), TasteNote("tasted", "", {"body": 14.0}, {}))]
    cups = cups_of(brews)
    assert cups.n_alike == 5 and len(cups.cups) == 6
    (strength,) = [one for one in cups.patterns if (one.figure, one.taste) == ("strength, %", "body")]
    assert (strength.n, strength.rho) == (5, pytest.approx(1.0))
    # Two of 120 orders, times the number of pairs that were tried (Holm).
    assert strength.p_of_all == pytest.approx(2 / 120 * len(cups.patterns))

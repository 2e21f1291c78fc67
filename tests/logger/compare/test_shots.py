"""The espressos of a recording, and the one that is held against the target."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import EASY
from logger.compare import assess, compare
from logger.compare.shots import held_shot, shots_in
from tests.logger.compare.brews import FOUR_POURS, SHOT, START_S, analysis, simulated, the_shot


def test_the_comparison_holds_what_the_shot_shows() -> None:
    brew = assess(simulated(SHOT, EASY, seed=3))
    (shot,) = brew.shots
    held = {each.quantity: each.actual for each in brew.comparison.whole}
    pump_s = brew.recording.meta.marks["pump"]
    assert shot.pump_s == pump_s
    assert held["first_drip_s"] == pytest.approx(shot.pre_infusion_s)
    assert held["end_s"] == pytest.approx(shot.pours[-1].end_s - pump_s)
    assert held["total_g"] == pytest.approx(shot.yield_at_rest_g)


def test_of_two_espressos_the_first_is_held_against_the_target() -> None:
    two = analysis((0, 36.2, 1.6), (60, 42.0, 1.6), method="espresso")
    comparison = compare(two, the_shot(), {}, marks={"pump": START_S - 6.0})
    assert "36.2 g in" in comparison.verdict
    assert comparison.notes[0] == (
        "There are 2 espressos in this recording: the first is held against the target."
    )
    assert next(each for each in comparison.whole if each.quantity == "first_drip_s").inside is True
    assert len(shots_in(two, {})) == 2


def test_a_rinse_before_the_shot_is_passed_over() -> None:
    rinsed = analysis((0, 8.0, 2.0), (60, 36.0, 1.6), method="espresso")
    comparison = compare(rinsed, the_shot(), {})
    assert "36.0 g in" in comparison.verdict
    assert "the one at place 2 is held against the target" in comparison.notes[0]


def test_a_mark_of_the_pump_after_the_first_drip_is_not_believed() -> None:
    found = analysis((0, 36.4, 1.6), method="espresso")
    comparison = compare(found, the_shot(), {}, marks={"pump": START_S + 3.0})
    assert [each.quantity for each in comparison.whole] == ["total_g", "end_s"]
    assert comparison.inside is True


def test_other_brews_hold_no_shot() -> None:
    assert assess(simulated(FOUR_POURS, EASY, seed=1)).shots == ()
    nothing = analysis(method="espresso")
    assert shots_in(nothing, {}) == ()
    assert held_shot(nothing, {}) == (nothing, {}, "")


def test_marks_that_are_no_numbers_do_no_harm() -> None:
    found = analysis((0, 36.4, 1.6), method="espresso")
    assert len(shots_in(found, {"pump": float("nan")})) == 1
    assert shots_in(replace(found, time_s=np.zeros(0), weight_g=np.zeros(0)), {})[0].stop_s is None

"""The scale's lag, where only the pours' own edges tell it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import EASY, MEDIUM
from logger.curve import analyse, water
from logger.curve.scale.lag import ToldLag, lag_by_edges
from tests.benchmarks.curve_suite import ESPRESSO, PLANS, THREE_POURS
from tests.logger.curve.staged import staged

NO_VESSEL = replace(EASY, vessel_chance=0.0, lift_chance=0.0)


@pytest.mark.parametrize("lag_s", [0.15, 0.3, 0.6])
def test_the_edges_of_the_pours_tell_a_lag_that_no_step_shows(lag_s: float) -> None:
    found = [
        analyse(*staged(THREE_POURS, replace(NO_VESSEL, lag_s=(lag_s, lag_s)), seed)[:2]).response_s
        for seed in range(6)
    ]
    assert np.median(found) == pytest.approx(lag_s, abs=0.1)
    assert max(abs(each - lag_s) for each in found) < 0.2


def test_what_a_lag_leaves_possible_widens_the_range() -> None:
    """The same pours on a scale whose lag is given, and on one whose edges have to tell it."""
    time_s, weight_g, _ = staged(THREE_POURS, replace(NO_VESSEL, lag_s=(0.3, 0.3)), 1)
    known = analyse(time_s, weight_g, response_s=0.3)
    told = analyse(time_s, weight_g)
    for one, other in zip(known.pours, told.pours, strict=True):
        assert one.start_between_s is not None
        assert other.start_between_s is not None
        assert np.diff(other.start_between_s) > np.diff(one.start_between_s)


def test_a_level_that_a_vessel_hides_right_after_a_pour_is_looked_for_behind_it() -> None:
    """A lid of 87 g is laid on 1.7 s after the last water, on a scale that shows it 0.8 s late.

    The curve is read 1 g too low there, as the lid's step began before the water had settled; without what is
    behind it, the end was 0.6 s late and 2 g too much.
    """
    time_s, weight_g, truth = staged(PLANS[2], MEDIUM, 1034)
    (pour,), (true,) = analyse(time_s, weight_g).pours, truth.pours
    assert pour.end_s == pytest.approx(true.end_s, abs=0.2)
    assert pour.poured_g == pytest.approx(true.poured_g, abs=1.2)


def test_the_edges_of_an_espresso_are_not_taken_for_a_hand_s(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[ToldLag | None] = []
    monkeypatch.setattr(water, "lag_by_edges", lambda *known: told.append(lag_by_edges(*known)) or told[-1])
    analyse(*staged(ESPRESSO, NO_VESSEL, 1)[:2])
    analyse(*staged(THREE_POURS, NO_VESSEL, 1)[:2])
    assert told[0] is None
    assert told[1] is not None and 0.0 < told[1].sd_s < 0.3


def test_a_lag_of_0_8_s_twice_over_is_among_those_that_edges_tell() -> None:
    twice = replace(NO_VESSEL, lag_s=(1.3, 1.3), second_lag_chance=1.0)  # 0.91 and 0.65 s
    found = [analyse(*staged(THREE_POURS, twice, seed)[:2]).response_s for seed in range(6)]
    assert min(found) > 1.0

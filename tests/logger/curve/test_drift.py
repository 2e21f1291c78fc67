"""What the weight does by itself: it makes the whole add up, and is said where it is more than a trifle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import Analysis
from tests.benchmarks.curve_suite import LEVELS, THREE_POURS, Floats
from tests.logger.curve.read_levels import read_brews
from tests.logger.curve.staged import CALM, assert_pours, kinds, read, staged


def change_g(found: Analysis) -> float:
    """By how much the weight of water changed from the first reading to the last."""
    return float(found.weight_g[-1] - found.weight_g[0])


@pytest.mark.parametrize("level", LEVELS)
def test_pours_and_drift_make_up_the_whole(level: str) -> None:
    for _, found in read_brews(level):
        if found.pours:
            poured_g = sum(pour.poured_g for pour in found.pours)
            assert poured_g + found.drift_g == pytest.approx(change_g(found), abs=1e-6)


@pytest.mark.parametrize("level", LEVELS)
def test_the_first_and_the_last_second_are_level(level: str) -> None:
    """So that the noise of a single reading is not taken for what the weight did by itself."""
    for brew, found in read_brews(level):
        time_s, weight_g, pours = found.time_s, found.weight_g, brew.truth.pours
        first, last = time_s < time_s[0] + 0.9, time_s > time_s[-1] - 0.9
        assert pours[0].start_s - time_s[0] < 3.0 or np.ptp(weight_g[first]) == 0.0
        assert time_s[-1] - pours[-1].end_s < 3.0 or np.ptp(weight_g[last]) == 0.0


def drained(time_s: Floats, from_s: float, until_s: float, lost_g: float) -> Floats:
    """What has run off the pan: evenly between two times."""
    return lost_g * np.clip((time_s - from_s) / (until_s - from_s), 0.0, 1.0)


def test_a_quiet_scale_drifts_by_nothing() -> None:
    time_s, weight_g, truth = staged(THREE_POURS)
    found = read(time_s, weight_g)
    assert_pours(found, truth)
    assert "drift" not in kinds(found)
    assert found.drift_g == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("lost_g", [-6.0, -1.5, 1.5])
def test_a_vessel_that_drains_between_two_pours_is_a_drift(lost_g: float) -> None:
    time_s, weight_g, truth = staged(THREE_POURS)
    since_s, until_s = truth.pours[0].end_s + 3.0, truth.pours[1].start_s - 3.0
    found = read(time_s, weight_g + drained(time_s, since_s, until_s, lost_g))
    assert_pours(found, truth)
    (drift,) = (event for event in found.events if event.kind == "drift")
    assert drift.change_g == pytest.approx(lost_g, abs=0.1)
    assert (drift.start_s, drift.end_s) == pytest.approx(
        (truth.pours[0].end_s, truth.pours[1].start_s), abs=0.3
    )
    assert found.drift_g == pytest.approx(lost_g, abs=0.15)
    assert found.total_g == pytest.approx(truth.total_g, abs=0.1)


def test_evaporation_over_a_whole_brew_is_in_the_balance() -> None:
    """0.02 g/s from the first water on; during the pours, 45 s of them, as between them."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, evaporation_g_s=(0.02, 0.02)))
    found = read(time_s, weight_g)
    assert found.total_g + found.drift_g == pytest.approx(change_g(found), abs=0.1)
    assert found.drift_g < -1.0
    assert found.total_g == pytest.approx(truth.total_g, abs=0.4)


def test_without_a_pour_all_the_weight_did_is_drift_and_no_event() -> None:
    time_s = np.arange(0.0, 60.0, 0.1)
    found = read(time_s, np.round(200.0 - 0.05 * time_s, 1))
    assert found.pours == ()
    assert found.drift_g == pytest.approx(change_g(found)) == pytest.approx(-2.95, abs=0.1)
    assert "drift" not in kinds(found)

"""An espresso's first drop falls before the scale shows it, and the range of its start says so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import simulate
from logger.curve import Pour, analyse
from logger.curve.pours.first_drops import DRIPS_FIRST_S, unseen_drops_s, with_first_drops
from tests.benchmarks.curve_suite import LEVELS, THREE_POURS, weights
from tests.logger.curve.read_levels import matched, read_brews


def a_pour(start_between_s: tuple[float, float] | None) -> Pour:
    return Pour(6.0, 30.0, 0.0, 36.0, 36.0, 1.5, 2.0, start_between_s, (29.5, 30.5), (35.8, 36.2))


@pytest.mark.parametrize(
    ("noise_g", "step_g", "unseen_s"), [(0.0, 0.0, 1.5), (0.03, 0.1, 1.5 + 0.8), (0.3, 1.0, 1.5 + 8.0)]
)
def test_what_hides_half_a_step_and_the_noise_hides_so_many_seconds_of_a_trickle(
    noise_g: float, step_g: float, unseen_s: float
) -> None:
    """At 0.1 g/s, below which nothing counts as a flow; besides the drops of the first second and a half."""
    assert unseen_drops_s(noise_g, step_g) == pytest.approx(unseen_s)


def test_only_the_early_side_of_the_start_and_the_heavy_side_of_the_yield_grow() -> None:
    (pour,) = with_first_drops((a_pour((5.7, 6.2)),), 0.0, 0.0)
    assert pour.start_between_s == pytest.approx((6.0 - np.hypot(0.3, DRIPS_FIRST_S), 6.2))
    assert pour.poured_between_g == pytest.approx((35.8, 36.0 + np.hypot(0.2, 0.1 * DRIPS_FIRST_S)))
    assert replace(pour, start_between_s=(5.7, 6.2), poured_between_g=(35.8, 36.2)) == a_pour((5.7, 6.2))


def test_of_a_start_that_nothing_is_known_of_nothing_is_said() -> None:
    (pour,) = with_first_drops((a_pour(None),), 0.1, 0.1)
    assert pour.start_between_s is None


def test_the_range_of_a_start_holds_the_first_drop_nine_times_in_ten() -> None:
    """Of the espressos among the brews of three levels; the first drop itself, not what shows of it."""
    held = []
    for level in ("easy", "medium", "hard"):
        for brew, found in read_brews(level):
            if brew.truth.method == "espresso":
                for pour, true in matched(brew, found):
                    assert pour.start_between_s is not None
                    held.append(pour.start_between_s[0] <= true.start_s <= pour.start_between_s[1])
    assert len(held) >= 12
    assert np.mean(held) >= 0.8


@pytest.mark.parametrize("seed", range(4))
def test_the_yield_counts_from_the_empty_cup_not_from_the_first_drops(seed: int) -> None:
    """Eight drops of 0.06 g in three seconds, then 1.6 g/s: 0.48 g have fallen before it runs."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 60.0, 0.1)
    drops_g = 0.06 * np.sum(time_s[:, None] > 9.0 + 0.4 * np.arange(8), axis=1)
    ran_g = 1.6 * np.clip(time_s - 12.2, 0.0, 22.0)
    brew = analyse(time_s, np.round(drops_g + ran_g + rng.normal(0.0, 0.03, time_s.size), 1), "espresso")
    (pour,) = brew.pours
    assert pour.poured_g == pytest.approx(35.68, abs=0.08)
    assert brew.total_g + brew.drift_g == pytest.approx(35.68, abs=0.1)


def test_a_kettles_start_shows_at_once_and_stays_as_narrow() -> None:
    for pour in analyse(*weights(simulate(THREE_POURS, 1, LEVELS["easy"]))).pours:
        assert pour.start_between_s is not None
        assert pour.start_s - pour.start_between_s[0] < 0.6


@pytest.mark.parametrize("sinks_g", [40.0, 80.0])
def test_a_cup_that_seemed_heavier_than_with_the_espresso_in_it_was_no_empty_cup(sinks_g: float) -> None:
    """A scale that wanders sinks by more, within the seconds before the first drop, than is drawn then."""
    time_s = np.arange(0.0, 60.0, 0.1)
    weight_g = np.interp(
        time_s, [0.0, 13.0, 18.5, 20.0, 40.0], [0.0, 0.0, -sinks_g, -sinks_g, 36.0 - sinks_g]
    )
    weight_g += np.random.default_rng(1).normal(0.0, 0.02, time_s.size)
    read = analyse(time_s, np.round(weight_g, 1))
    assert all(pour.poured_g > 0.0 for pour in read.pours)
    assert sum(pour.poured_g for pour in read.pours) == pytest.approx(36.0, abs=4.0)

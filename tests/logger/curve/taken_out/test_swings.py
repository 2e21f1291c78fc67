"""Stirring that swings the display faster than any kettle pours."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from logger.curve.readings.timebase import grid_of, samples_from
from logger.curve.taken_out.steps import find_moves
from logger.curve.taken_out.swings import find_swings
from tests.benchmarks.curve_suite import Floats


def stirred(
    hz: float, size_g: float, cycles: float, lag_s: float, stays_g: float = 0.0
) -> tuple[Floats, Floats]:
    """Two pours of 50 and 80 g, at 10 and 30 s, and a spoon 3.5 s after the first.

    :param stays_g: what comes to stay in the middle of that
    """
    fine_s = np.arange(0.0, 55.0, 0.01)
    water_g = 6.25 * np.clip(fine_s - 10.0, 0.0, 8.0) + 8.0 * np.clip(fine_s - 30.0, 0.0, 10.0)
    since_s, lasts_s = fine_s - 21.5, cycles / hz
    grows = np.clip(np.minimum(since_s, lasts_s - since_s) / 0.3, 0.0, 1.0)
    spoon_g = size_g * np.sin(2.0 * np.pi * hz * since_s) * grows + stays_g * (since_s > 0.5 * lasts_s)
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [lag_s, 1.0]), water_g + spoon_g, fine_s)
    weight_g = shown_g[::10] + np.random.default_rng(1).normal(0.0, 0.05, shown_g[::10].size)
    return fine_s[::10], np.round(weight_g, 1)


@pytest.mark.parametrize("lag_s", [0.15, 0.3])
@pytest.mark.parametrize("size_g", [9.0, -14.0])
def test_a_spoon_that_swings_fast_leaves_nothing_behind(size_g: float, lag_s: float) -> None:
    for hz, cycles in product((0.8, 1.1, 1.5, 2.2), (2.5, 3.0, 3.75)):
        brew = analyse(*stirred(hz, size_g, cycles, lag_s))
        assert [pour.poured_g for pour in brew.pours] == pytest.approx([50.0, 80.0], abs=0.6), (hz, cycles)
        assert {event.kind for event in brew.events} == {"stir"}, (hz, cycles)
        assert brew.pours[0].end_s == pytest.approx(18.0, abs=0.3), (hz, cycles)
        assert brew.pours[1].start_s == pytest.approx(30.0, abs=0.3), (hz, cycles)


def test_what_comes_to_stay_while_somebody_stirs_is_a_vessel() -> None:
    grid = grid_of(samples_from(*stirred(1.5, 12.0, 5.0, 0.15, stays_g=90.0)))
    assert find_moves(grid, 0.05)
    assert find_swings(grid, 0.05) == []


def test_a_vessel_that_is_lifted_and_put_back_swings_once() -> None:
    time_s = np.arange(0.0, 40.0, 0.1)
    grid = grid_of(samples_from(time_s, np.where((time_s > 20.0) & (time_s < 21.0), 0.0, 300.0)))
    assert find_moves(grid, 0.05)
    assert find_swings(grid, 0.05) == []


def test_a_swing_that_turns_has_not_settled() -> None:
    """At its last turn the display stands still for a moment, far from where it comes to rest."""
    time_s = np.arange(0.0, 40.0, 0.1)
    since_s = np.clip(time_s - 20.0, 0.0, 2.4)
    swings_g = 12.0 * np.sin(2.0 * np.pi * 1.25 * since_s)
    turns_g = (
        6.0 * np.clip((time_s - 22.4) / 0.2, 0.0, 1.0) * np.exp(-np.clip(time_s - 22.9, 0.0, None) / 0.3)
    )
    (whole,) = find_swings(grid_of(samples_from(time_s, 100.0 + swings_g + turns_g)), 0.03)
    assert whole.end_s > 23.2
    assert abs(whole.change_g) < 2.0

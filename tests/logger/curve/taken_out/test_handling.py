"""A plunger pressed: the display goes mad for half a minute, and nothing of it is water."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import analyse
from logger.curve.brew import Event
from logger.curve.readings.timebase import grid_of, samples_from
from logger.curve.taken_out.handling import gathered
from logger.curve.taken_out.steps import find_moves
from tests.benchmarks.curve_suite import Floats, filter_plan
from tests.logger.curve.staged import CALM, assert_pours, kinds, staged

STEEPED = filter_plan((0, 200, 10), dose_g=12.0, method="immersion")


def pressed_g(time_s: Floats, from_s: float, force_g: float, lasts_s: float = 25.0) -> Floats:
    """A hand that pushes for a while, never quite evenly."""
    on = np.clip(time_s - from_s, 0.0, 1.0) * np.clip((from_s + lasts_s - time_s) / 0.6, 0.0, 1.0)
    wavers = 0.12 * np.sin(2 * np.pi * 0.4 * time_s + 1.0) + 0.05 * np.sin(2 * np.pi * 1.3 * time_s)
    return force_g * on * (1.0 + wavers)


@pytest.mark.parametrize("force_g", [150.0, 600.0, 2000.0])
def test_a_press_is_one_event_and_no_water(force_g: float) -> None:
    conditions = replace(CALM, vessel_chance=1.0, lead_s=(8.0, 8.0), lag_s=(0.3, 0.3))
    time_s, weight_g, truth = staged(STEEPED, conditions)
    from_s = truth.pours[0].end_s + 30.0
    brew = analyse(time_s, weight_g + pressed_g(time_s, from_s, force_g))
    assert_pours(brew, truth, start_s=0.15, end_s=0.3, grams=0.05)
    assert kinds(brew) == ["vessel-on", "tare", "press"]
    press = brew.events[-1]
    assert press.start_s == pytest.approx(from_s, abs=1.0)
    assert press.end_s == pytest.approx(from_s + 25.0, abs=4.0)
    after = brew.time_s > press.end_s + 1.0
    assert brew.weight_g[after] == pytest.approx(200.0, abs=0.2)


def test_what_stays_after_much_handling_is_a_vessel() -> None:
    time_s = np.arange(0.0, 60.0, 0.1)
    weight_g = pressed_g(time_s, 10.0, 800.0, 12.0) + np.where(time_s > 16.0, 300.0, 0.0)
    grid = grid_of(samples_from(time_s, weight_g))
    (move,), presses = gathered(find_moves(grid, 0.01), grid, 0.01)
    assert presses == ()
    assert move.change_g == pytest.approx(300.0, abs=1.0)
    assert not move.returns


def test_a_vessel_that_is_lifted_and_put_back_stays_two_moves() -> None:
    time_s = np.arange(0.0, 60.0, 0.1)
    weight_g = np.where((time_s > 20.0) & (time_s < 26.0), 0.0, 400.0)
    grid = grid_of(samples_from(time_s, weight_g))
    moves, presses = gathered(find_moves(grid, 0.01), grid, 0.01)
    assert presses == ()
    assert [round(move.change_g) for move in moves] == [-400, 400]


def test_whoever_presses_the_tare_key_has_let_go() -> None:
    """Four moves within ten seconds, nothing stays: lifted and put back, the key, lifted and put back."""
    time_s = np.arange(0.0, 60.0, 0.1)
    away = ((time_s > 20.0) & (time_s < 21.5)) | ((time_s > 23.5) & (time_s < 25.0))
    grid = grid_of(samples_from(time_s, np.where(away, 0.0, 400.0)))
    found = find_moves(grid, 0.01)
    assert len(found) == 4
    assert [event.kind for event in gathered(found, grid, 0.01)[1]] == ["press"]
    moves, presses = gathered(found, grid, 0.01, (Event("tare", 22.4, 22.5, -400.0),))
    assert presses == ()
    assert [round(move.change_g) for move in moves] == [-400, 400, -400, 400]

"""Tares, vessels and knocks told apart by how the display moves."""

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import analyse
from logger.curve.readings.timebase import Samples, grid_of, samples_from
from logger.curve.taken_out.fast_water import came_in_bursts
from logger.curve.taken_out.steps import Move, event_of, find_moves, without_moves
from logger.curve.taken_out.tares import find_tares, without_tares
from tests.benchmarks.curve_suite import Floats

TIME_S = np.arange(0.0, 40.0, 0.1)


def samples(weight_g: Floats) -> Samples:
    return samples_from(TIME_S, np.round(weight_g, 1))


def tares_of(weight_g: Floats) -> list[tuple[float, float]]:
    """Give time and change of each."""
    found = find_tares(samples(weight_g), 0.03, 0.1)
    return [(round(tare.end_s, 2), round(tare.change_g, 1)) for tare in found]


def vessel(at_s: float, vessel_g: float, lag_s: float = 0.3) -> Floats:
    return vessel_g * (1.0 - np.exp(-np.maximum(TIME_S - at_s, 0.0) / lag_s))


def moves_of(weight_g: Floats) -> tuple[Move, ...]:
    return find_moves(grid_of(samples(weight_g)), 0.03)


def test_a_jump_to_zero_is_a_tare() -> None:
    weight_g = np.where(TIME_S < 10.0, 350.0, 0.0)
    assert tares_of(weight_g) == [(10.0, -350.0)]


def test_a_tare_from_below_zero_is_one_too() -> None:
    assert tares_of(np.where(TIME_S < 10.0, -42.0, 0.0)) == [(10.0, 42.0)]


def test_a_vessel_that_is_lifted_is_no_tare() -> None:
    """It arrives with the scale's lag, and lands where it lands."""
    assert tares_of(350.0 - vessel(10.0, 350.0)) == []
    assert tares_of(np.where(TIME_S < 10.0, 350.0, 22.0)) == []


def test_water_may_flow_right_after_a_tare_but_a_vessel_may_not_follow_at_once() -> None:
    rising = np.where(TIME_S < 10.0, 350.0, 6.0 * (TIME_S - 10.0))
    assert [at for at, _ in tares_of(rising)] == [10.0]
    assert tares_of(np.where(TIME_S < 10.0, 350.0, 200.0 * (TIME_S - 10.0))) == []


def test_a_tare_while_water_flows_loses_none_of_it() -> None:
    poured_g = 6.0 * np.clip(TIME_S - 5.0, 0.0, 10.0)
    shown = samples(poured_g - np.where(TIME_S >= 9.0, 24.0, 0.0))
    tares = find_tares(shown, 0.03, 0.1)
    assert without_tares(shown, tares) == pytest.approx(poured_g, abs=0.15)


def test_a_vessel_is_a_move_that_stays() -> None:
    (move,) = moves_of(vessel(10.0, 420.0))
    assert not move.returns
    assert move.change_g == pytest.approx(420.0, abs=1.0)
    assert (move.start_s, move.end_s) == pytest.approx((10.0, 12.5), abs=1.0)
    assert event_of(move).kind == "vessel-on"
    assert event_of(moves_of(420.0 - vessel(10.0, 420.0))[0]).kind == "vessel-off"


def test_no_kettle_is_a_move() -> None:
    assert moves_of(15.0 * np.clip(TIME_S - 5.0, 0.0, 10.0)) == ()


def test_a_knock_is_a_move_that_returns() -> None:
    (move,) = moves_of(50.0 + 30.0 * np.exp(-(((TIME_S - 10.0) / 0.2) ** 2)))
    assert move.returns
    assert event_of(move).kind == "knock"
    assert event_of(move).change_g == 0.0


@pytest.mark.parametrize("flow_g_s", [3.0, 6.0, 12.0])
def test_a_knock_in_a_pour_returns_to_where_water_would_have_brought_the_display(flow_g_s: float) -> None:
    """The display rings on for a second with the scale's lag, and the pour adds up to 12 g meanwhile."""
    ringing = 60.0 * np.where(TIME_S > 10.0, np.exp(-np.maximum(TIME_S - 10.0, 0.0) / 0.4), 0.0)
    poured_g = flow_g_s * np.clip(TIME_S - 5.0, 0.0, 15.0)
    (move,) = moves_of(poured_g + ringing)
    assert move.returns
    drawn, replaced = without_moves(TIME_S, poured_g + ringing, (move,))
    assert drawn == pytest.approx(poured_g, abs=0.35 * flow_g_s)
    assert np.count_nonzero(replaced) < 35


def lagging(load_g: Floats, stage_s: float, stages: int) -> Floats:
    share = 1.0 - np.exp(-0.1 / stage_s)
    for _ in range(stages):
        load_g = lfilter([share], [1.0, share - 1.0], load_g)
    return np.asarray(load_g)


@pytest.mark.parametrize("flow_g_s", [0.0, 4.0, 8.0])
@pytest.mark.parametrize("stages", [1, 2])
def test_a_knock_falls_back_more_slowly_than_it_rises_and_is_no_vessel(flow_g_s: float, stages: int) -> None:
    """80 g for a quarter of a second through 0.35 s: up at 40 g/s and more, down at less than a vessel."""
    blow_g = 80.0 * np.sin(np.pi * np.clip((TIME_S - 15.0) / 0.4, 0.0, 1.0)) ** 2
    shown_g = lagging(flow_g_s * np.clip(TIME_S - 5.0, 0.0, 25.0) + blow_g, 0.35, stages)
    moves = moves_of(shown_g)
    assert all(move.returns and move.end_s > 16.0 for move in moves)


def test_a_pour_that_ends_as_the_vessel_is_lifted_is_none_of_the_lift() -> None:
    poured_g = 10.0 * np.clip(TIME_S - 5.0, 0.0, 6.0)
    shown_g = lagging(poured_g - np.where(TIME_S > 11.8, 300.0, 0.0), 0.5, 1)
    (move,) = moves_of(shown_g)
    assert move.start_s == pytest.approx(11.8, abs=0.21)
    assert move.change_g == pytest.approx(-300.0, abs=3.0)


def test_a_vessel_off_and_on_again_is_two_moves() -> None:
    moves = moves_of(400.0 - vessel(10.0, 400.0) + vessel(16.0, 400.0))
    assert [event_of(move).kind for move in moves] == ["vessel-off", "vessel-on"]


def test_after_a_vessel_the_curve_goes_on_where_it_was() -> None:
    poured_g = 6.0 * np.clip(TIME_S - 20.0, 0.0, 10.0)
    shown_g = poured_g + vessel(10.0, 420.0)
    drawn, replaced = without_moves(TIME_S, shown_g, moves_of(shown_g))
    assert drawn[~replaced] == pytest.approx(poured_g[~replaced], abs=1.0)


def test_a_move_that_runs_into_a_silence_ends_when_the_silence_does() -> None:
    heard = (TIME_S < 10.2) | (TIME_S > 12.5)
    quiet = samples_from(TIME_S[heard], vessel(10.0, 420.0)[heard])
    (move,) = find_moves(grid_of(quiet), 0.03)
    assert move.end_s > 12.5
    assert move.change_g == pytest.approx(420.0, abs=5.0)


@pytest.mark.parametrize("pressed_s", [11.0, 11.5, 12.2])
def test_the_tare_key_is_pressed_while_a_slow_scale_still_settles(pressed_s: float) -> None:
    """A vessel of 600 g, a lag of 0.7 s: the weight goes on rising as it did."""
    on_g = 600.0 * (1.0 - np.exp(-np.maximum(TIME_S - 10.0, 0.0) / 0.7))
    shown_at_g = float(np.interp(pressed_s, TIME_S, on_g))
    [(at_s, change_g)] = tares_of(on_g - np.where(pressed_s <= TIME_S, shown_at_g, 0.0))
    assert at_s == pytest.approx(pressed_s, abs=0.11)
    assert change_g == pytest.approx(-shown_at_g, abs=0.02 * shown_at_g)


def test_a_light_thing_that_a_slow_filter_lets_fall_is_a_move() -> None:
    """12 g, taken off; at a time constant of 0.8 s they fall by 15 g/s at the most."""
    (move,) = moves_of(12.0 * np.exp(-np.maximum(TIME_S - 20.0, 0.0) / 0.8))
    assert move.change_g == pytest.approx(-12.0, abs=1.0)


@pytest.mark.parametrize("flow_g_s", [22.0, 28.0, 36.0])
@pytest.mark.parametrize("lag_s", [0.0, 0.4])
def test_a_quick_fill_is_water(flow_g_s: float, lag_s: float) -> None:
    """From a wide kettle, wobbling; no step takes so long."""
    wobbling_g_s = flow_g_s * (1.0 + 0.25 * np.sin(2.0 * np.pi * 0.8 * TIME_S))
    poured_g = np.cumsum(np.where((TIME_S > 10.0) & (TIME_S < 18.0), wobbling_g_s, 0.0)) * 0.1
    kept = np.exp(-0.1 / lag_s) if lag_s else 0.0
    shown_g = poured_g.copy()
    for at in range(1, shown_g.size):
        shown_g[at] = kept * shown_g[at - 1] + (1.0 - kept) * poured_g[at]
    assert moves_of(shown_g) == ()


@pytest.mark.parametrize("count", [0, 1, 3, 4])
def test_next_to_nothing_holds_no_steps(count: int) -> None:
    few = samples_from(TIME_S[:count], np.zeros(count))
    assert find_tares(few, 0.03, 0.1) == ()
    if count > 1:
        assert find_moves(grid_of(few), 0.03) == ()


@pytest.mark.parametrize("lag_s", [0.1, 0.3, 0.6])
def test_a_quick_pour_of_some_seconds_is_no_vessel(lag_s: float) -> None:
    """60 g at 22 g/s, with a wrist that goes faster for a moment: straight, where a step bends."""
    time_s = np.arange(0.0, 40.0, 0.1)
    since_s = np.clip(time_s - 15.0, 0.0, 2.8)
    load_g = 22.0 * since_s + 2.0 * np.sin(2.0 * np.pi * since_s / 1.4)
    share = 1.0 - np.exp(-0.1 / lag_s)
    noise_g = np.random.default_rng(2).normal(0.0, 0.03, time_s.size)
    weight_g = lfilter([share], [1.0, share - 1.0], load_g) + noise_g
    read = analyse(time_s, weight_g)
    assert [pour.poured_g for pour in read.pours] == pytest.approx([61.6], abs=1.0)


@pytest.mark.parametrize("apart_s", [3.5, 4.0, 4.5, 5.0])
@pytest.mark.parametrize("stage_s", [0.6, 0.75])
def test_a_second_vessel_on_a_scale_that_still_follows_the_first_is_no_knock(
    stage_s: float, apart_s: float
) -> None:
    """What the display still shows of the first is no water that the second could have brought back."""
    loads_g = np.where(TIME_S > 8.0, 420.0, 0.0) + np.where(8.0 + apart_s < TIME_S, 110.0, 0.0)
    for seed in range(3):
        noise_g = np.random.default_rng(seed).normal(0.0, 0.03, TIME_S.size)
        moves = moves_of(lagging(loads_g, stage_s, 2) + noise_g)
        came_g = sum(move.change_g for move in moves if not move.returns)
        assert came_g == pytest.approx(530.0, abs=8.0)


def test_what_is_too_fast_for_water_for_seconds_did_not_come_in_bursts() -> None:
    """Two stages of 0.78 s, 110 g: at 25 g/s and more for two seconds, on what the display still shows of
    another vessel.
    """
    shown_g = lagging(np.where(TIME_S > 10.0, 110.0, 0.0), 0.78, 2) + vessel(2.0, 440.0, 2.0)
    too_fast = np.flatnonzero(np.gradient(shown_g, 0.1)[100:150] > 25.0) + 100
    assert 0.1 * too_fast.size > 1.5
    assert not came_in_bursts(grid_of(samples(shown_g)), int(too_fast[0]) - 5, int(too_fast[-1]) + 8)


def test_readings_that_come_unevenly_do_not_end_a_vessels_tail() -> None:
    """A cup of 64 g, two stages of 0.7 s; two readings on the way up are told to be later than they were."""
    shown_g = lagging(np.where(TIME_S > 10.0, 64.0, 0.0), 0.7, 2)
    for late_s in np.arange(11.5, 13.5, 0.2):
        told_s = TIME_S + np.where(np.abs(TIME_S - late_s) < 0.11, 0.07, 0.0)
        (move,) = find_moves(grid_of(Samples(told_s, shown_g, 0.1)), 0.03)
        assert move.change_g == pytest.approx(64.0, abs=2.5)


@pytest.mark.parametrize("step_g", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("response", [(0.7, 1), (0.55, 2)])
@pytest.mark.parametrize("waits_s", [8.5, 30.0])
def test_what_is_lifted_and_put_back_is_back_when_the_display_is(
    waits_s: float, response: tuple[float, int], step_g: float
) -> None:
    """The last grams of its return on a slow scale are no pour, and none of the next one's."""
    stage_s, order = response
    time_s = np.arange(0.0, 90.0, 0.05)
    load_g = 300.0 * (time_s > 2.0) + 6.0 * np.clip(time_s - 14.0, 0.0, 20.0)
    load_g += 8.0 * np.clip(time_s - 40.0 - waits_s, 0.0, 10.0)
    load_g -= 345.0 * ((time_s > 40.0) & (time_s < 42.2))
    share = 1.0 - np.exp(-0.05 / stage_s)
    for _ in range(order):
        load_g = lfilter([share], [1.0, share - 1.0], load_g)
    noise_g = np.random.default_rng(3).normal(0.0, 0.015, time_s.size)
    brew = analyse(time_s, step_g * np.round((load_g + noise_g) / step_g))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([120.0, 80.0], abs=1.2)
    assert brew.pours[1].start_s == pytest.approx(40.0 + waits_s, abs=0.7)
    assert brew.pours[0].end_s == pytest.approx(34.0, abs=0.6)

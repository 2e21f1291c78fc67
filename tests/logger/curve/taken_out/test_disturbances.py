"""Knocks and stirring, and the running median beneath them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from scipy import ndimage, signal

from logger.curve import analyse
from logger.curve.brew import Event
from logger.curve.readings.timebase import Grid
from logger.curve.taken_out.disturbances import (
    departures,
    find_disturbances,
    shaken,
    without_disturbances,
)
from tests.benchmarks.curve_suite import Floats

TIME_S = np.arange(0.0, 30.0, 0.1)


def grid(weight_g: Floats) -> Grid:
    return Grid(TIME_S, weight_g, 0.1, np.zeros(TIME_S.size, dtype=np.bool_))


def found(weight_g: Floats) -> tuple[Event, ...]:
    return find_disturbances(grid(weight_g), 0.03, 0.02, 0.1, 0.0)


def pour() -> Floats:
    return 6.0 * np.clip(TIME_S - 10.0, 0.0, 10.0)


def stirring(at_s: float, size_g: float) -> Floats:
    within = (at_s <= TIME_S) & (at_s + 2.5 > TIME_S)
    return np.where(within, size_g * np.sin(2 * np.pi * 1.3 * (TIME_S - at_s)), 0.0)


@settings(max_examples=60, deadline=None)
@given(
    values=arrays.arrays(np.float64, st.integers(1, 200), elements=st.floats(-1e6, 1e6)),
    half=st.integers(1, 20),
    least=st.floats(0.0, 1e6),
)
def test_what_departs_departs_from_scipys_running_median(values: Floats, half: int, least: float) -> None:
    """scipy.ndimage.median_filter with the ends held; what is no more than the least may be none."""
    expected = values - ndimage.median_filter(values, 2 * half + 1, mode="nearest")
    found_away = departures(values, half, least)
    beyond = np.abs(expected) > least
    assert (found_away[beyond] == expected[beyond]).all()
    assert (np.abs(found_away[~beyond]) <= least).all()


def test_all_is_told_where_nothing_is_too_little() -> None:
    values = np.random.default_rng(0).normal(0.0, 1.0, 20_000)
    assert (departures(values, 15, -1.0) == values - ndimage.median_filter(values, 31, mode="nearest")).all()


def test_a_pour_is_no_disturbance() -> None:
    assert found(pour()) == ()


@pytest.mark.parametrize("at_s", [5.0, 10.1, 15.0, 25.0])
def test_a_knock_is_found_in_a_pause_at_an_edge_and_in_a_pour(at_s: float) -> None:
    (knock,) = found(pour() + 4.0 * np.exp(-(((TIME_S - at_s) / 0.1) ** 2)))
    assert knock.kind == "knock"
    assert knock.start_s < at_s < knock.end_s


def rested(at_s: float, size_g: float, stage_s: float) -> Floats:
    """What a scale of two equal stages shows of a hand that rests on it for 3 s; scipy's answer."""
    pressed = np.where((at_s <= TIME_S) & (at_s + 3.0 > TIME_S), size_g, 0.0)
    scale = signal.TransferFunction([1.0], [stage_s**2, 2.0 * stage_s, 1.0])
    return signal.lsim(scale, pressed, TIME_S)[1]


@pytest.mark.parametrize("stage_s", [0.4, 0.6, 0.8])
def test_a_hand_that_rests_on_the_scale_is_followed_to_both_its_feet(stage_s: float) -> None:
    """The median of 3 s sees the top of it alone; what it left would rise by 20 g, like a pour."""
    weight_g = pour() + rested(22.5, 30.0, stage_s)
    (knock,) = found(weight_g)
    assert knock.kind == "knock"
    assert 21.5 < knock.start_s < 23.5 + stage_s
    drawn, _ = without_disturbances(TIME_S, weight_g, (knock,))
    assert drawn == pytest.approx(pour(), abs=2.0)


@pytest.mark.parametrize("at_s", [5.0, 22.0])
@pytest.mark.parametrize("size_g", [0.6, 3.0, 12.0])
def test_to_and_fro_for_a_while_is_stirring(at_s: float, size_g: float) -> None:
    (stir,) = found(pour() + stirring(at_s, size_g))
    assert stir.kind == "stir"
    assert (stir.start_s, stir.end_s) == pytest.approx((at_s, at_s + 2.5), abs=0.5)


@pytest.mark.parametrize("hz", [4.0, 6.0, 10.0])
@pytest.mark.parametrize("rests_s", [1.2, 1.4, 2.0])
def test_a_pour_soon_after_stirring_is_no_part_of_it(hz: float, rests_s: float) -> None:
    """The swings within the median's reach bend it where the pour begins: its start was drawn through."""
    fine_s = np.arange(0.0, 60.0, 0.01)
    water_g = 6.0 * np.clip(fine_s - 8.0, 0.0, 12.0) + 5.0 * np.clip(fine_s - 25.0 - rests_s, 0.0, 12.0)
    since_s = np.clip(fine_s - 22.0, 0.0, 3.0)
    spoon_g = 9.0 * np.sin(2.0 * np.pi * 1.3 * since_s) * np.clip(4.0 * (3.0 - since_s), 0.0, 1.0)
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [0.25, 1.0]), water_g + spoon_g, fine_s)
    every = round(100.0 / hz)
    weight_g = shown_g[::every] + np.random.default_rng(1).normal(0.0, 0.03, shown_g[::every].size)
    read = analyse(fine_s[::every], np.round(weight_g, 1))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([72.0, 60.0], abs=0.4)
    assert read.pours[1].start_s == pytest.approx(25.0 + rests_s, abs=0.4)
    assert [event.kind for event in read.events] == ["stir"]


def test_a_line_is_drawn_through_what_was_disturbed() -> None:
    weight_g = pour() + 4.0 * np.exp(-(((TIME_S - 15.0) / 0.1) ** 2))
    drawn, replaced = without_disturbances(TIME_S, weight_g, found(weight_g))
    assert drawn == pytest.approx(pour(), abs=0.05)
    assert 3 <= np.count_nonzero(replaced) <= 15
    assert (drawn[~replaced] == weight_g[~replaced]).all()


def test_where_all_is_disturbed_nothing_is_drawn() -> None:
    everything = (Event("stir", -1.0, 40.0, 0.0),)
    drawn, replaced = without_disturbances(TIME_S, pour(), everything)
    assert (drawn == pour()).all()
    assert replaced.all()


def test_two_halves_of_a_stirring_are_one_and_named_by_the_whole() -> None:
    """One half was found as a fast move, the other as a disturbance; each alone looks like a knock."""
    halves = (Event("knock", 6.0, 7.6, 0.0), Event("knock", 4.8, 6.2, 0.0))
    assert shaken(grid(stirring(5.0, 12.0)), halves, 0.02, 0.1) == (Event("stir", 4.8, 7.6, 0.0),)
    lone = (Event("knock", 20.0, 21.0, 0.0),)
    assert shaken(grid(4.0 * np.exp(-(((TIME_S - 20.5) / 0.1) ** 2))), lone, 0.02, 0.1) == lone
    assert shaken(grid(pour()), (), 0.02, 0.1) == ()


@pytest.mark.parametrize("knocked_s", [19.0, 19.4, 19.8])
def test_a_pour_that_begins_under_a_knock_on_a_slow_scale_keeps_all_its_water(knocked_s: float) -> None:
    """30 g within 4 s. The knock goes up at once and comes down with the lag, as the water begins to come."""
    time_s = np.arange(0.0, 60.0, 0.1)
    load_g = 300.0 * (time_s > 1.5) + 60.0 * np.clip((time_s - 8.0) / 8.0, 0.0, 1.0)
    load_g += 30.0 * np.clip((time_s - 20.0) / 3.8, 0.0, 1.0) + 60.0 * np.clip(
        (time_s - 35.0) / 8.0, 0.0, 1.0
    )
    load_g += 60.0 * np.sin(np.pi * np.clip((time_s - knocked_s) / 0.3, 0.0, 1.0)) ** 2
    share = 1.0 - np.exp(-0.1 / 0.5)
    weight_g = signal.lfilter([share], [1.0, share - 1.0], load_g)
    noise_g = np.random.default_rng(1).normal(0.0, 0.04, time_s.size)
    read = analyse(time_s, np.round(weight_g + noise_g, 1))
    assert [pour.poured_g for pour in read.pours] == pytest.approx([60.0, 30.0, 60.0], abs=0.6)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("lifted_s", [21.0, 21.6])
def test_a_filter_that_is_lifted_right_after_a_pour_was_not_knocked(lifted_s: float, seed: int) -> None:
    """A slow scale has not fallen all the way when it is put back, and it dripped: the level seems lower."""
    fine_s = np.arange(0.0, 60.0, 0.01)
    load_g = 9.5 * np.clip(fine_s - 5.0, 0.0, 8.0) + 9.6 * np.clip(fine_s - 16.0, 0.0, 3.65)
    load_g -= 433.0 * np.clip((fine_s - lifted_s) / 0.3, 0.0, 1.0)
    load_g += 426.0 * np.clip((fine_s - lifted_s - 3.8) / 0.3, 0.0, 1.0)
    load_g += 7.0 * np.clip((fine_s - lifted_s) / 3.8, 0.0, 1.0)
    _, shown_g, _ = signal.lsim(signal.lti([1.0], np.convolve([0.56, 1.0], [0.56, 1.0])), load_g, fine_s)
    noise_g = np.random.default_rng(seed).normal(0.0, 0.04, shown_g[::24].size)
    read = analyse(fine_s[::24], np.round(shown_g[::24] + noise_g, 2))
    assert "knock" not in [event.kind for event in read.events]
    assert [pour.poured_g for pour in read.pours] == pytest.approx([76.0, 35.0], abs=0.5)

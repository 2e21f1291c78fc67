"""The tare key, and the finger on it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from logger.curve import Event, analyse
from logger.curve.brew import Floats
from logger.curve.taken_out.fingers import is_finger_on_key

TARE = (Event("tare", 50.0, 50.1, -60.0),)


def test_a_finger_bears_on_the_key_until_it_works() -> None:
    assert is_finger_on_key(48.9, 49.9, 7.0, TARE)


@pytest.mark.parametrize(
    ("start_s", "end_s", "gained_g"),
    [
        pytest.param(44.0, 49.9, 7.0, id="slowly"),
        pytest.param(48.9, 49.9, 20.0, id="more than a finger"),
        pytest.param(46.0, 47.0, 7.0, id="long before"),
        pytest.param(51.5, 52.5, 7.0, id="after it"),
    ],
)
def test_what_pours_is_no_finger(start_s: float, end_s: float, gained_g: float) -> None:
    assert not is_finger_on_key(start_s, end_s, gained_g, TARE)
    assert not is_finger_on_key(start_s, end_s, gained_g, ())


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("finger_g", [5.0, 8.0])
def test_a_finger_on_the_key_between_two_pours_is_neither(seed: int, finger_g: float) -> None:
    """It presses for a second, the scale lags by 0.3 s, the key works while it is still there."""
    fine_s = np.arange(0.0, 75.0, 0.01)
    water_g = 5.0 * np.clip(fine_s - 15.0, 0.0, 10.0) + 6.0 * np.clip(fine_s - 55.0, 0.0, 12.0)
    pressed_g = finger_g * np.clip((fine_s - 38.0) / 0.8, 0.0, 1.0) * (fine_s < 40.0)
    _, display_g, _ = signal.lsim(signal.lti([1.0], [0.3, 1.0]), water_g + pressed_g, fine_s)
    time_s, display_g = fine_s[::10], display_g[::10]
    display_g = display_g - np.where(time_s > 39.1, display_g[391], 0.0)
    display_g += np.random.default_rng(seed).normal(0.0, 0.03, time_s.size)
    pours = analyse(time_s, display_g, response_s=0.3).pours
    assert [round(pour.start_s) for pour in pours] == [15, 55]
    assert [pour.poured_g for pour in pours] == pytest.approx([50.0, 72.0], abs=0.4)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("finger_g", [1.5, 4.0, 10.0])
def test_a_finger_that_the_key_takes_away_with_the_rest_is_no_water(seed: int, finger_g: float) -> None:
    """It bears on a key that works when it has left: the display goes from the finger to zero, and rests."""
    time_s = np.arange(0.0, 40.0, 0.1)
    rested_g = 15.0 + finger_g * np.clip((time_s - 17.5) / 0.1, 0.0, 1.0)
    landed_g = 6.0 * np.clip(time_s - 19.2, 0.0, 10.0)
    shown_g = np.where(time_s < 17.96, rested_g, landed_g)
    shown_g += np.random.default_rng(seed).normal(0.0, 0.03, time_s.size)
    brew = analyse(time_s, shown_g, response_s=0.0)
    (tare,), (pour,) = brew.events, brew.pours
    assert (tare.kind, tare.change_g) == ("tare", pytest.approx(-15.0, abs=0.1))
    assert (tare.start_s, tare.end_s) == pytest.approx((17.5, 18.0), abs=0.11)
    assert pour.start_s == pytest.approx(19.2, abs=0.15)
    assert pour.poured_g == pytest.approx(60.0, abs=0.15)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("finger_g", "water_s"), [(2.5, 19.6), (4.5, 19.6), (8.0, 20.5)])
def test_a_finger_that_leaves_the_display_below_zero_takes_no_water_with_it(
    seed: int, finger_g: float, water_s: float
) -> None:
    """The key works while it bears; then it leaves, through a lag of 0.15 s, and water comes soon after."""
    time_s = np.arange(0.0, 40.0, 0.08)
    since_s = time_s - 18.0
    gone_g = -finger_g * (1.0 - np.exp(-since_s.clip(0.0) / 0.15))
    landed_g = 6.0 * np.clip(time_s - water_s - 0.15, 0.0, 10.0)
    shown_g = np.where(since_s < 0.0, 140.0, gone_g + landed_g)
    shown_g += np.random.default_rng(seed).normal(0.0, 0.03, time_s.size)
    brew = analyse(time_s, shown_g, response_s=0.15)
    (tare,), (pour,) = brew.events, brew.pours
    assert (tare.kind, tare.change_g) == ("tare", pytest.approx(-140.0 - finger_g, abs=0.15))
    assert pour.start_s == pytest.approx(water_s, abs=0.2)
    assert pour.poured_g == pytest.approx(60.0, abs=0.2)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("finger_g", [3.0, 5.4, 7.0])
def test_a_finger_that_is_let_go_just_before_the_key_works_is_no_coffee(seed: int, finger_g: float) -> None:
    """What comes after it is the coffee, of which there is one dose."""
    time_s = np.arange(0.0, 100.0, 0.12)
    finger = finger_g * ((time_s > 7.45) & (time_s < 9.0))
    cup_g = 670.0 * np.clip((time_s - 3.0) / 0.5, 0.0, 1.0) + finger
    coffee_g = 16.4 * np.clip((time_s - 11.3) / 4.4, 0.0, 1.0)
    water_g = 4.0 * np.clip(time_s - 24.0, 0.0, 10.0) + 6.0 * np.clip(time_s - 60.0, 0.0, 8.0)
    shown_g = np.where(time_s < 9.2, cup_g, np.where(time_s < 21.7, coffee_g, water_g))
    shown_g += np.random.default_rng(seed).normal(0.0, 0.05, time_s.size)
    brew = analyse(time_s, shown_g, response_s=0.0)
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([40.0, 48.0], abs=0.3)


def tared_while_it_runs(step_g: float, interval_s: float, key_s: float) -> tuple[Floats, Floats]:
    """A pour of 60 g at 6 g/s from 20 s on; what a display that lags by 0.4 s shows as the key works is zero
    from then on.
    """
    fine_s = np.arange(0.0, 50.0, 0.01)
    landed_g = 6.0 * np.clip(fine_s - 20.0, 0.0, 10.0)
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [0.4, 1.0]), landed_g, fine_s)
    shown_g = shown_g + np.random.default_rng(1).normal(0.0, 0.03, shown_g.size)
    shown_g = shown_g - np.where(fine_s >= key_s, np.interp(key_s, fine_s, shown_g), 0.0)
    every = round(interval_s / 0.01)
    return fine_s[::every], np.round(shown_g[::every] / step_g) * step_g


@pytest.mark.parametrize("key_s", [22.93, 25.01, 27.48])
@pytest.mark.parametrize("step_g", [0.1, 1.0])
def test_no_water_is_lost_where_the_key_is_pressed_while_it_runs(step_g: float, key_s: float) -> None:
    time_s, weight_g = tared_while_it_runs(step_g, 0.05, key_s)
    brew = analyse(time_s, weight_g)
    assert [event.kind for event in brew.events] == ["tare"]
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0], abs=0.15 + 0.35 * step_g)


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_a_reading_drawn_between_two_as_the_key_works_is_no_level(share: float) -> None:
    """As in a table laid on even times."""
    time_s, weight_g = tared_while_it_runs(0.1, 0.05, 25.01)
    at = int(np.argmin(np.diff(weight_g)))
    weight_g[at] = weight_g[at - 1] + share * (weight_g[at + 1] - weight_g[at - 1])
    brew = analyse(time_s, weight_g)
    assert [event.kind for event in brew.events] == ["tare"]
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0], abs=0.2)


@pytest.mark.parametrize("lost", [1, 2])
def test_what_ran_while_readings_were_lost_beside_the_key_is_water(lost: int) -> None:
    """Five readings a second, and those are missing that came just before the key."""
    time_s, weight_g = tared_while_it_runs(0.1, 0.2, 22.71)
    first = int(np.argmin(np.diff(weight_g))) + 1 - lost
    kept = np.delete(np.arange(time_s.size), np.arange(first, first + lost))
    (pour,) = analyse(time_s[kept], weight_g[kept]).pours
    assert pour.poured_g == pytest.approx(60.0, abs=0.6)


@pytest.mark.parametrize("lost", [1, 2])
def test_what_ran_while_readings_were_lost_behind_the_key_is_no_vessels(lost: int) -> None:
    """The first that comes again shows what has come since the key, no zero."""
    time_s, weight_g = tared_while_it_runs(0.1, 0.2, 24.71)
    first = int(np.argmin(np.diff(weight_g))) + 1
    kept = np.delete(np.arange(time_s.size), np.arange(first, first + lost))
    brew = analyse(time_s[kept], weight_g[kept])
    assert [event.kind for event in brew.events] == ["tare"]
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0], abs=0.6)


def test_a_knock_that_comes_back_to_zero_is_no_key() -> None:
    """The table rings: of a swing of 2 g one reading shows; nothing was on the pan that could be tared."""
    time_s = np.arange(0.0, 60.0, 0.08)
    weight_g = 1.8 * np.clip(time_s - 24.0, 0.0, 20.0)
    weight_g += np.random.default_rng(1).normal(0.0, 0.04, time_s.size)
    knocked = int(np.searchsorted(time_s, 20.0))
    weight_g[knocked : knocked + 7] += [0.6, 2.2, 0.5, 1.4, 0.6, 0.9, 0.4]
    brew = analyse(time_s, weight_g)
    assert [event.kind for event in brew.events] == ["knock"]
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([36.0], abs=0.3)

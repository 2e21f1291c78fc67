"""The tare key told apart from a lift, by what comes after it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import analyse
from logger.curve.brew import EventKind
from logger.curve.readings.timebase import Samples, grid_of, samples_from
from logger.curve.taken_out.handling import events_of
from logger.curve.taken_out.steps import find_moves
from logger.curve.taken_out.tares import find_tares, without_tares
from logger.curve.taken_out.zeroing import lifts_among, tares_among
from tests.benchmarks.curve_suite import THREE_POURS, Floats
from tests.logger.curve.staged import CALM, assert_pours, dosed, kinds, read, staged

TIME_S = np.arange(0.0, 40.0, 0.1)
VESSEL_G, DOSE_G = 500.0, 15.0


def test_a_jump_to_zero_is_a_lift_where_the_same_vessel_comes_back() -> None:
    """The pan was never tared: empty, it shows zero."""
    on = 300.0 * (1.0 - np.exp(-np.maximum(TIME_S - 3.0, 0.0) / 0.3))
    away = np.where((TIME_S > 15.0) & (TIME_S < 20.0), 300.0, 0.0)
    shown = samples_from(TIME_S, np.round(on - away, 1))
    tares = find_tares(shown, 0.03, 0.1)
    moves = find_moves(grid_of(Samples(TIME_S, without_tares(shown, tares), 0.1)), 0.03)
    assert [event.kind for event in tares] == ["tare"]
    assert [event.kind for event in lifts_among(tares, moves, shown)] == ["vessel-off"]
    assert [event.kind for event in lifts_among(tares, moves[:1], shown)] == ["tare"]


def test_nothing_is_lifted_off_an_empty_pan() -> None:
    """A server of 300 g and a filter of 200 g; the key; then the filter is taken off and put back."""
    on = np.where(TIME_S > 3.0, 300.0, 0.0) + np.where(TIME_S > 7.0, 200.0, 0.0)
    away = np.where((TIME_S > 20.0) & (TIME_S < 26.0), 200.0, 0.0)
    share = 1.0 - np.exp(-0.1 / 0.3)
    weight_g = lfilter([share], [1.0, share - 1.0], on - away)
    weight_g[TIME_S > 15.0] -= 500.0
    shown = samples_from(TIME_S, np.round(weight_g, 1))
    tares = find_tares(shown, 0.03, 0.1)
    moves = find_moves(grid_of(Samples(TIME_S, without_tares(shown, tares), 0.1)), 0.03)
    assert [round(move.change_g, -1) for move in moves] == [300.0, 200.0, -200.0, 200.0]
    assert [event.kind for event in lifts_among(tares, moves, shown)] == ["tare"]


def falls(time_s: Floats, at_s: float, grams: float, lag_s: float) -> Floats:
    """What a filter makes of a zero that is set ahead of it."""
    return -grams * (1.0 - np.exp(-np.maximum(time_s - at_s, 0.0) / lag_s))


@pytest.mark.parametrize(("laid_s", "kind"), [(0.2, "vessel-off"), (5.0, "tare")])
def test_what_fell_to_zero_and_leaves_later_was_tared(laid_s: float, kind: EventKind) -> None:
    """18 g in a tared vessel, which is lifted later: coffee that came slowly; a spoon is taken off."""
    coffee_g = 18.0 * np.clip((TIME_S - 8.0) / laid_s, 0.0, 1.0)
    weight_g = VESSEL_G * (TIME_S > 2.0) + coffee_g
    share = 1.0 - np.exp(-0.1 / 0.3)
    tares_g = VESSEL_G * (TIME_S > 5.0) + 18.0 * (TIME_S > 16.0) + VESSEL_G * (TIME_S > 26.0)
    shown = samples_from(TIME_S, np.round(lfilter([share], [1.0, share - 1.0], weight_g - tares_g), 1))
    events = events_of(find_moves(grid_of(shown), 0.03))
    named = tares_among(events, (), (), shown, 0.03, 0.1)
    assert [event.kind for event in named if event.start_s > 12.0] == [kind, "vessel-off"]


@pytest.mark.parametrize("lag_s", [0.15, 0.3, 0.5])
@pytest.mark.parametrize("leans_g", [0.0, 2.5, 9.0])
def test_a_tare_that_goes_through_the_filter(lag_s: float, leans_g: float) -> None:
    """It falls to zero, or to what the finger on the key weighed, and water comes without a new vessel."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(24.0, 24.0)))
    on = VESSEL_G * (1.0 - np.exp(-np.maximum(time_s - 2.0, 0.0) / lag_s))
    weight_g = dosed(time_s, weight_g + on, 11.0, [9.0, 6.0])
    weight_g += falls(time_s, 7.0, VESSEL_G, lag_s) + falls(time_s, 16.0, DOSE_G + leans_g, lag_s)
    brew = analyse(time_s, weight_g, response_s=0.0)
    assert_pours(brew, truth)
    assert kinds(brew) == ["vessel-on", "tare", "dose", "tare"]


@pytest.mark.parametrize("stage_s", [0.6, 1.0])
def test_a_tare_that_falls_for_seconds_through_two_filters(stage_s: float) -> None:
    """When it is slow enough for a vessel to have been lifted, ten grams and more are still to come down."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(36.0, 36.0)))
    weight_g += 320.0 * (time_s > 2.0) - 320.0 * (time_s > 10.0) - DOSE_G * (time_s > 27.0)
    weight_g, share = dosed(time_s, weight_g, 19.0, [9.0, 6.0]), 1.0 - np.exp(-0.1 / stage_s)
    for _ in range(2):
        weight_g = lfilter([share], [1.0, share - 1.0], weight_g)
    brew = analyse(time_s, np.round(weight_g, 1))
    assert_pours(brew, truth, start_s=0.4, end_s=0.6, grams=0.4)
    assert [kind for kind in kinds(brew) if kind != "drift"] == ["vessel-on", "tare", "dose", "tare"]


def test_a_bloom_that_is_tared_through_the_filter_before_the_dripper_is_lifted() -> None:
    """The dripper comes back, but it had been there all along: the key was pressed for the bloom."""
    lag_s = 0.35
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lag_s=(lag_s, lag_s)))
    bloom_s, bloom_g = truth.pours[0].end_s, truth.pours[0].poured_g
    away = [(1.0 - np.exp(-np.maximum(time_s - bloom_s - at_s, 0.0) / lag_s)) for at_s in (3.0, 7.0, 10.0)]
    brew = analyse(time_s, weight_g - bloom_g * away[0] - 249.0 * away[1] + 249.0 * away[2])
    assert len(brew.pours) == len(truth.pours)
    assert kinds(brew)[:3] == ["tare", "vessel-off", "vessel-on"]


def test_a_filter_that_weighs_as_much_as_the_display_shows_drips_while_it_is_lifted() -> None:
    """Lifted, it leaves a display of zero, which rises as it drips; put back, it weighs less by that."""
    lag_s, filter_g, dripped_g, drips_s = 0.6, 300.0, 6.0, 8.0
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lag_s=(lag_s, lag_s), lead_s=(24.0, 24.0)))
    lifted_s = truth.pours[-1].end_s + 3.0
    away = [1.0 - np.exp(-np.maximum(time_s - lifted_s - at_s, 0.0) / lag_s) for at_s in (0.0, drips_s + 1.0)]
    shown_g = weight_g / weight_g[-1] * filter_g - filter_g * away[0] + (filter_g - dripped_g) * away[1]
    shown_g += dripped_g * np.clip((time_s - lifted_s - 1.0) / drips_s, 0.0, 1.0)
    brew = analyse(time_s, shown_g)
    assert len(brew.pours) == len(truth.pours)
    assert [kind for kind in kinds(brew) if kind != "drift"] == ["vessel-off", "vessel-on"]


def test_what_is_lifted_to_zero_and_put_back_is_no_tare() -> None:
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(24.0, 24.0)))
    brew = read(time_s, weight_g + VESSEL_G * (((time_s > 2.0) & (time_s < 8.0)) | (time_s > 14.0)))
    assert_pours(brew, truth)
    assert kinds(brew) == ["vessel-on", "vessel-off", "vessel-on"]


def test_coffee_that_falls_in_at_once_before_the_tare_has_faded() -> None:
    """It seems a vessel, but a light one; and the display fell to zero before."""
    lag_s = 0.2
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(24.0, 24.0)))
    on = VESSEL_G * (1.0 - np.exp(-np.maximum(time_s - 2.0, 0.0) / lag_s))
    weight_g += on + 25.0 * np.clip((time_s - 9.1) / 0.4, 0.0, 1.0)
    weight_g += falls(time_s, 7.0, VESSEL_G, lag_s) + falls(time_s, 16.0, 25.0, lag_s)
    brew = analyse(time_s, weight_g, response_s=0.0)
    assert_pours(brew, truth)
    assert [kind for kind in kinds(brew) if kind == "tare"] == ["tare", "tare"]


def test_the_key_says_nothing_of_the_scales_lag() -> None:
    """The pan is followed by 0.6 s; the zero comes after that filter, through a quick one."""
    time_s, weight_g, _ = staged(THREE_POURS, replace(CALM, lead_s=(24.0, 24.0)))
    weight_g += VESSEL_G * (1.0 - np.exp(-np.maximum(time_s - 2.0, 0.0) / 0.6))
    brew = analyse(time_s, weight_g + falls(time_s, 12.0, VESSEL_G, 0.12))
    assert brew.response_s == pytest.approx(0.6, abs=0.05)

"""Pours beside a silence, and a vessel that nobody ever tared."""

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from logger.curve.brew import Floats
from logger.curve.edges.shapes import Response
from logger.curve.pours.stretches import fit_stretches
from logger.curve.pours.water_curve import Curve

TIME_S = np.arange(0.0, 75.0, 0.1)


def poured(*pours: tuple[float, float, float]) -> Floats:
    """Start, end and grams of each pour, shown by a first-order scale of 0.25 s in steps of 0.1 g."""
    water_g = sum(grams * np.clip((TIME_S - start) / (end - start), 0.0, 1.0) for start, end, grams in pours)
    shown_g, level_g = np.empty_like(TIME_S), 0.0
    for number, target_g in enumerate(np.asarray(water_g)):
        level_g += (target_g - level_g) * (1.0 - np.exp(-0.1 / 0.25))
        shown_g[number] = level_g
    return np.asarray(np.round(shown_g, 1))


@pytest.mark.parametrize("since_s", [35.0, 36.5])
def test_a_pour_that_begins_in_a_silence_is_one_of_its_own(since_s: float) -> None:
    weight_g = poured((8.0, 14.0, 40.0), (24.0, 34.0, 70.0), (44.0, 54.0, 60.0))
    heard = (since_s > TIME_S) | (TIME_S > 49.0)
    brew = analyse(TIME_S[heard], weight_g[heard])
    # The display has not quite settled when the silence begins: half a gram may go to the wrong pour.
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([40.0, 70.0, 60.0], abs=0.6)
    assert brew.pours[1].end_s == pytest.approx(34.0, abs=0.3)
    # When the third began nobody knows; not while flat readings came.
    assert brew.pours[2].start_s >= since_s - 0.2
    assert brew.pours[2].end_s == pytest.approx(54.0, abs=0.3)


def test_a_pour_wholly_within_a_silence_is_kept_as_water() -> None:
    weight_g = poured((8.0, 14.0, 40.0), (30.0, 34.0, 50.0))
    heard = (TIME_S < 28.0) | (TIME_S > 36.0)
    brew = analyse(TIME_S[heard], weight_g[heard])
    assert brew.total_g == pytest.approx(90.0, abs=0.3)


def test_a_pour_that_goes_on_through_a_silence_stays_one() -> None:
    weight_g = poured((8.0, 28.0, 120.0))
    heard = (TIME_S < 15.0) | (TIME_S > 18.0)
    (pour,) = analyse(TIME_S[heard], weight_g[heard]).pours
    assert pour.poured_g == pytest.approx(120.0, abs=0.3)


def test_a_full_vessel_lifted_off_a_scale_that_was_never_tared_is_no_tare() -> None:
    weight_g = poured((12.0, 24.0, 170.0))
    weight_g = np.where(TIME_S < 3.0, 0.0, weight_g + 300.0)
    weight_g = np.where(TIME_S > 60.0, 0.0, weight_g)
    brew = analyse(TIME_S, weight_g)
    assert [event.kind for event in brew.events] == ["vessel-on", "vessel-off"]
    assert brew.total_g == pytest.approx(170.0, abs=0.5)


def test_a_tare_in_mid_brew_on_a_scale_that_was_never_tared_stays_a_tare() -> None:
    weight_g = poured((12.0, 20.0, 60.0), (40.0, 50.0, 110.0))
    weight_g = np.where(TIME_S < 3.0, 0.0, weight_g + 300.0)
    weight_g = np.where(TIME_S > 30.0, weight_g - 360.0, weight_g)
    brew = analyse(TIME_S, weight_g)
    assert [event.kind for event in brew.events if event.kind != "vessel-on"] == ["tare"]
    assert brew.total_g == pytest.approx(170.0, abs=0.5)


def test_an_end_in_a_silence_is_fitted_to_the_level_that_stands_still_after_it() -> None:
    """Where a stretch was cut as the weight stood still after a silence, what is left of it begins there."""
    weight_g = poured((8.0, 18.0, 80.0))
    heard = (TIME_S < 16.5) | (TIME_S > 19.25)
    replaced = np.zeros(int(heard.sum()), dtype=np.bool_)
    grid_s = np.arange(0.0, 74.9, 0.1) + 0.05  # the reading that ends the silence is none before the cut
    grid_g = np.interp(grid_s, TIME_S[heard], weight_g[heard])
    curve = Curve(TIME_S[heard], weight_g[heard], replaced, grid_s, grid_g, 0.1, 0.03, Response(0.25))
    cut = int(np.searchsorted(grid_s, 19.2))
    (_, end), _ = fit_stretches(curve, [(78, cut), (cut, cut + 3)])
    assert end.level_g == pytest.approx(80.0, abs=0.3)
    assert 17.0 < end.time_s < 19.2


@pytest.mark.parametrize("seed", range(6))
def test_a_coarse_display_stands_still_beside_a_silence_while_a_thin_stream_runs(seed: int) -> None:
    """0.7 g/s in steps of 1 g: for 1.4 s the same number, and a silence of 1.6 s among them."""
    water_g = 0.7 * np.clip(TIME_S - 14.0, 0.0, 32.0) + np.random.default_rng(seed).normal(
        0.0, 0.05, TIME_S.size
    )
    heard = (29.0 + 0.2 * seed > TIME_S) | (30.6 + 0.2 * seed < TIME_S)
    brew = analyse(TIME_S[heard][::2], np.round(water_g[heard])[::2])
    (pour,) = brew.pours
    assert pour.poured_g == pytest.approx(22.4, abs=1.0)


@pytest.mark.parametrize(("stands_s", "pours"), [(0.0, 1), (1.4, 2), (1.7, 2), (2.0, 2)])
def test_a_stream_of_which_nothing_is_missing_ran_on_through_a_silence(stands_s: float, pours: int) -> None:
    """Readings that came in one burst before the silence seem to stand still; then the weight tells."""
    water_g = 2.0 * np.clip(TIME_S - 14.0, 0.0, 16.0) + 2.0 * np.clip(TIME_S - 30.0 - stands_s, 0.0, 20.0)
    shown_g = np.round(2.0 * water_g) / 2.0
    held = (TIME_S > 30.05) & (TIME_S < 30.85)
    shown_g[held] = shown_g[~held & (TIME_S < 30.1)][-1]
    heard = (TIME_S < 30.85) | (TIME_S > 32.8)
    brew = analyse(TIME_S[heard], shown_g[heard])
    assert len(brew.pours) == pours
    assert brew.total_g == pytest.approx(72.0, abs=0.6)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("until_s", [33.8, 34.4])
def test_what_is_seen_after_a_silence_is_the_level_of_the_pour_before_it(until_s: float, seed: int) -> None:
    """It begins before a display that lags by 1 s, not by 1.3 s, is there, and lasts beyond half-way."""
    water_g = 6.5 * np.clip(TIME_S - 18.0, 0.0, 12.0) + 6.0 * np.clip(TIME_S - 36.5, 0.0, 12.0)
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [1.0, 1.0]), water_g, TIME_S)
    shown_g += np.random.default_rng(seed).normal(0.0, 0.06, TIME_S.size)
    heard = (TIME_S < 31.0) | (until_s < TIME_S)
    first, second = analyse(TIME_S[heard], shown_g[heard], response_s=1.3).pours
    assert (first.poured_g, second.poured_g) == pytest.approx((78.0, 72.0), abs=1.0)

"""How wide the ranges are, term by term."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from logger.curve.edges.believed import TIPS_S
from logger.curve.edges.choice import Known
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response, end_shape, start_shape
from logger.curve.edges.tipping import SOFTEST_S
from logger.curve.pours.ranges import (
    AFTER,
    COARSE,
    DROPS_G,
    ENDS,
    FALL_SD_S,
    LATE_S,
    SHOWN_LAG_SD_S,
    STARTS,
    THIN_ENDS,
    THIN_STARTS,
    Late,
    Width,
    between_grams,
    between_times,
    coarse_sd_g,
    in_hole,
)
from logger.curve.readings.timebase import samples_of_checked
from logger.curve.water import read_samples
from tests.benchmarks.curve_suite import THREE_POURS, filter_plan
from tests.logger.curve.staged import CALM, read, staged

SURE = Known(10.0, 10.0, 10.0, 0.0, 0.0)
"""An edge of which the readings leave nothing open."""


FITTED = Edge(10.0, 0.0, 6.0, 0.3, 0.0)
NOT_LATE = Late(0.0, 0.0)


def width_s(late: Late, kind: Width = ENDS, fitted: Edge = FITTED, rounded_g: float = 0.0) -> float:
    low_s, high_s = between_times(SURE, 10.0, kind, late, fitted, rounded_g)
    return high_s - low_s - LATE_S


def test_a_lag_that_edges_told_leaves_an_end_more_open_than_a_start() -> None:
    told, shown = Late.of(0.3, 0.15, thin=False), Late.of(0.3, 0.0, thin=False)
    assert width_s(told) - width_s(shown) > 1.2 * (width_s(told, STARTS) - width_s(shown, STARTS))


def test_how_far_a_stream_falls_is_known_no_better_where_a_step_showed_the_lag() -> None:
    assert Late.of(0.3, 0.0, thin=False).sd_s == pytest.approx(math.hypot(FALL_SD_S, SHOWN_LAG_SD_S))
    of_espresso, told = Late.of(0.3, None, thin=True), Late.of(0.3, None, thin=False)
    assert of_espresso.sd_s > told.sd_s > Late.of(0.3, 0.0, thin=False).sd_s


@pytest.mark.parametrize("kind", [STARTS, ENDS, THIN_STARTS, THIN_ENDS])
def test_a_longer_lag_is_less_well_known_as_no_filter_is_two_equal_stages(kind: Width) -> None:
    bare = replace(kind, unseen_s=0.0, unseen_g=0.0, later_s=0.0, breaks_off=0.0)
    for lag_s in (0.2, 1.2):
        late = Late.of(lag_s, 0.0, thin=False)
        moved_s = math.hypot(kind.moves * late.sd_s, kind.filters * lag_s)
        assert width_s(late, bare) == pytest.approx(2.0 * 1.645 * moved_s)


def test_what_the_readings_leave_open_counts_on_its_own_side() -> None:
    known = Known(10.0, 8.0, 10.1, 0.0, 0.0)
    low_s, high_s = between_times(known, 10.0, ENDS, NOT_LATE, FITTED)
    assert between_times(replace(known, low_s=9.0), 10.0, ENDS, NOT_LATE, FITTED)[1] == high_s
    assert 10.0 - low_s == pytest.approx(2.0 * ENDS.early, abs=0.04)
    unseen_s = ENDS.unseen_g / FITTED.flow_g_s
    assert high_s - 10.0 == pytest.approx(
        math.hypot(0.1 * ENDS.late, 1.645 * math.hypot(ENDS.later_s, unseen_s))
    )


def test_a_thin_stream_takes_longer_for_the_water_that_no_reading_shows() -> None:
    thin = replace(FITTED, flow_g_s=2.0)
    assert width_s(NOT_LATE, STARTS, thin) == pytest.approx(2.0 * 1.645 * STARTS.unseen_g / 2.0)
    assert width_s(NOT_LATE, STARTS, thin) > 2.5 * width_s(NOT_LATE, STARTS)
    assert width_s(NOT_LATE, STARTS, replace(FITTED, flow_g_s=0.0)) < 2.0


def test_what_the_best_start_leaves_of_its_readings_widens_it_and_the_more_so_the_thinner_the_stream() -> (
    None
):
    rough = replace(FITTED, misfit_g2=0.3**2)
    assert width_s(NOT_LATE, ENDS, rough) == width_s(NOT_LATE, ENDS)
    unseen_g = math.hypot(STARTS.unseen_g, 0.3 * STARTS.misfits)
    assert width_s(NOT_LATE, STARTS, rough) == pytest.approx(2.0 * 1.645 * unseen_g / FITTED.flow_g_s)
    assert width_s(NOT_LATE, STARTS, replace(rough, flow_g_s=2.0)) == pytest.approx(
        3.0 * width_s(NOT_LATE, STARTS, rough)
    )


@pytest.mark.parametrize("kind", [STARTS, ENDS, THIN_STARTS, THIN_ENDS])
def test_an_edge_that_too_few_readings_could_be_fitted_to_widens_nothing(kind: Width) -> None:
    not_fitted = replace(FITTED, misfit_g2=math.inf)
    assert between_times(SURE, 10.0, kind, NOT_LATE, not_fitted) == between_times(
        SURE, 10.0, kind, NOT_LATE, FITTED
    )


def test_an_end_may_be_earlier_where_the_flow_fell_slowly_and_no_later_for_that() -> None:
    quick, slow, no_hands = (replace(FITTED, ramp_s=ramp_s) for ramp_s in (0.1, 1.2, 7.0))
    between = [between_times(SURE, 10.0, ENDS, NOT_LATE, fitted) for fitted in (quick, slow, no_hands)]
    assert between[0][1] == between[1][1] == between[2][1]
    below_s = [10.0 - LATE_S - low_s for low_s, _ in between]
    unseen_s = 1.645 * ENDS.unseen_g / FITTED.flow_g_s
    for each_s, ramp_s in zip(below_s, (0.1, 1.2, SOFTEST_S), strict=True):
        assert each_s == pytest.approx(math.hypot(unseen_s, 1.645 * ENDS.breaks_off * ramp_s))


def test_a_bloom_that_a_hand_pours_thinly_has_a_hands_ranges() -> None:
    """An espresso's would allow for no fall: a range of its start at 2.3 g/s would be half as wide."""
    plan = filter_plan((0, 40, 2.3), (45, 150, 6), (75, 250, 6))
    for fall_m in (0.0, 0.05, 0.18):
        time_s, weight_g, truth = staged(plan, replace(CALM, fall_m=(fall_m, fall_m)))
        bloom, first = read(time_s, weight_g).pours[0], truth.pours[0]
        assert bloom.mean_flow_g_s < 2.5
        assert bloom.start_between_s is not None
        assert bloom.start_between_s[0] <= first.start_s <= bloom.start_between_s[1]
        else_s = 1.645 * math.hypot(STARTS.unseen_g / 2.3, STARTS.moves * Late.of(0.0, 0.0, thin=False).sd_s)
        assert bloom.start_between_s[1] - bloom.start_s > 0.95 * else_s


def test_a_start_may_be_where_a_later_fit_has_it_and_an_end_half_way_to_any() -> None:
    """The one that fitted best lies 0.8 s later, or earlier: so far reaches that side of the range alone."""
    for kind, shares in ((STARTS, (0.0, STARTS.fits_late)), (ENDS, (ENDS.fits_early, ENDS.fits_late))):
        low_s, high_s = between_times(SURE, 10.0, kind, NOT_LATE, FITTED)
        earlier, later = (replace(FITTED, time_s=10.0 + off_s) for off_s in (-0.8, 0.8))
        below_s, same_high_s = between_times(SURE, 10.0, kind, NOT_LATE, earlier)
        same_low_s, above_s = between_times(SURE, 10.0, kind, NOT_LATE, later)
        assert (same_low_s, same_high_s) == (low_s, high_s)
        reaches_s = 10.0 - LATE_S - below_s, above_s - 10.0
        without_s = 10.0 - LATE_S - low_s, high_s - 10.0
        for reach_s, rest_s, share in zip(reaches_s, without_s, shares, strict=True):
            assert reach_s == pytest.approx(math.hypot(rest_s, 0.8 * share))


def test_what_a_coarse_display_rounds_off_widens_a_start_and_the_more_so_the_thinner_the_stream() -> None:
    assert width_s(NOT_LATE, ENDS, rounded_g=0.4) == width_s(NOT_LATE, ENDS)
    unseen_g = math.hypot(STARTS.unseen_g, STARTS.coarse * 0.4)
    wide_s = width_s(NOT_LATE, STARTS, rounded_g=0.4)
    assert wide_s == pytest.approx(2.0 * 1.645 * unseen_g / FITTED.flow_g_s)
    assert width_s(NOT_LATE, STARTS, replace(FITTED, flow_g_s=2.0), 0.4) == pytest.approx(3.0 * wide_s)


def test_what_seems_to_come_more_slowly_than_a_hand_tips_may_have_begun_later_and_never_earlier() -> None:
    quick, tipped, slow = (replace(FITTED, ramp_s=ramp_s) for ramp_s in (0.1, TIPS_S, 1.7))
    between = [between_times(SURE, 10.0, STARTS, NOT_LATE, fitted) for fitted in (quick, tipped, slow)]
    assert between[0] == between[1]
    assert between[0][0] == between[2][0]
    slow_s = 1.645 * STARTS.slow * (1.7 - TIPS_S)
    assert between[2][1] - 10.0 == pytest.approx(math.hypot(between[0][1] - 10.0, slow_s))


def test_starts_that_noise_draws_out_are_held_as_the_others_are() -> None:
    """One ramp of 0.4 s at 5 g/s, 0.3 g of noise, a lag of 0.8 s: where that passes for a ramp of more than a
    second, the start is read some 0.4 s early. Ranges that knew nothing of the ramp held half of those.
    """
    held, drawn_out = [], []
    for seed in range(120):
        chance = np.random.default_rng(seed)
        time_s, true_s = np.arange(0.0, 45.0, 0.1), 20.0 + chance.uniform()
        water_g = 5.0 * (
            begun(time_s - true_s, np.array(0.4), Response(0.8))
            - begun(time_s - true_s - 16.0, np.array(0.3), Response(0.8))
        )
        shown_g = np.round(water_g + chance.normal(0.0, 0.3, time_s.size), 1)
        taken = read_samples(samples_of_checked(time_s, shown_g), Response(0.8))
        (pour,), (rise,) = taken.pours, taken.rises
        assert pour.start_between_s is not None
        held.append(pour.start_between_s[0] <= true_s <= pour.start_between_s[1])
        drawn_out.append(rise.start.ramp_s > 1.0)
    assert 5 < sum(drawn_out) < 30
    assert np.mean(held) > 0.85
    assert np.array(held)[drawn_out].mean() > 0.7


def begun(since_s: np.ndarray, ramp_s: np.ndarray, response: Response) -> np.ndarray:
    """What a flow of 1 has brought, the press of its stream with it."""
    return np.asarray(np.maximum(start_shape(since_s, ramp_s, response), 0.0))


def test_an_espressos_end_is_the_least_sure() -> None:
    """It fades, by a time constant of 0.6 s; and a lag that is not known counts for more."""
    low_s, high_s = between_times(replace(SURE, after_g=0.06), 10.0, THIN_ENDS, NOT_LATE, FITTED)
    assert high_s - low_s - LATE_S > width_s(NOT_LATE, ENDS) > width_s(NOT_LATE, STARTS)
    told = Late(0.2, 0.15)
    assert width_s(told, THIN_ENDS) > width_s(told, ENDS) > width_s(told, STARTS)


@pytest.mark.parametrize("lag_s", [0.1, 0.35, 0.6])
def test_a_stream_that_falls_for_longer_looks_like_one_that_ends_sooner(lag_s: float) -> None:
    """So nothing tells the fall: 0.05 s more of it differ by 0.03 g at 6 g/s from an end 0.05 s earlier."""
    since_s, ramp_s, longer_s = np.arange(-3.0, 4.0, 0.1), np.array(0.3), 0.05
    shown = end_shape(since_s, ramp_s, Response(lag_s))
    pressed = shown + longer_s * _slope(since_s, ramp_s, Response(lag_s))
    sooner = end_shape(since_s + longer_s, ramp_s, Response(lag_s))
    assert 6.0 * np.abs(pressed - sooner).max() < 0.03
    assert 6.0 * np.abs(pressed - shown).max() > 0.25


def _slope(since_s: np.ndarray, ramp_s: np.ndarray, response: Response) -> np.ndarray:
    """How fast what is shown changes: once more of it is what each second of fall adds."""
    fine_s = 1e-5
    late, early = (end_shape(since_s + each_s, ramp_s, response) for each_s in (fine_s, -fine_s))
    return np.asarray((late - early) / (2.0 * fine_s))


def test_rounding_two_levels_hides_as_much_as_the_difference_of_two_rounded_numbers() -> None:
    """Of two numbers that are rounded each on its own: measured on a hundred thousand."""
    chance = np.random.default_rng(1)
    before_g, after_g = chance.uniform(0.0, 50.0, (2, 100_000))
    off_g = np.round(after_g) - np.round(before_g) - (after_g - before_g)
    assert off_g.std() == pytest.approx(COARSE, rel=0.01)


@pytest.mark.parametrize("noise_in_steps", [0.0, 0.1, 0.2, 0.3, 0.5])
def test_noise_carries_a_level_over_the_roundings_beside_it(noise_in_steps: float) -> None:
    """Means of a few hundred rounded readings: what still hides of them is no more than is said."""
    chance = np.random.default_rng(2)
    levels_g = chance.uniform(0.0, 1.0, 400)
    readings_g = np.round(levels_g[:, None] + noise_in_steps * chance.normal(size=(400, 4000)))
    off_g = readings_g.mean(axis=1) - levels_g
    one_g = coarse_sd_g(1.0, math.hypot(noise_in_steps, math.sqrt(1.0 / 12.0))) / math.sqrt(2.0)
    assert math.sqrt(np.mean(off_g**2)) == pytest.approx(one_g, rel=0.25, abs=0.02)
    assert coarse_sd_g(1.0, 0.1) == COARSE
    assert coarse_sd_g(0.0, 0.1) == 0.0


def test_an_edge_in_a_hole_may_be_anywhere_in_there_but_not_seconds_away() -> None:
    before_s = np.arange(0.0, 9.6, 0.1)
    assert in_hole(SURE, np.append(before_s, 9.6 + np.arange(20) * 0.1)) == SURE
    narrow = in_hole(SURE, np.append(before_s, [10.6, 10.7]))
    assert (narrow.low_s, narrow.high_s) == pytest.approx((9.5, 10.6))
    wide = in_hole(SURE, np.append(before_s[before_s < 5.0], [16.0, 16.1]))
    assert (wide.low_s, wide.high_s) == pytest.approx((8.5, 11.5))
    assert in_hole(SURE, before_s) == SURE


def test_a_fade_ends_the_less_surely_the_slower_it_is() -> None:
    slow = replace(SURE, after_g=0.1)
    low_s, high_s = between_times(slow, 10.0, THIN_ENDS, NOT_LATE, FITTED)
    off_s = 1.645 * math.hypot(THIN_ENDS.unseen_s, THIN_ENDS.fades)
    assert 10.0 - low_s - LATE_S == pytest.approx(off_s)
    assert high_s - 10.0 == pytest.approx(math.hypot(off_s, 1.645 * THIN_ENDS.later_s))


def test_an_espressos_film_can_only_make_its_end_later() -> None:
    low_s, high_s = between_times(SURE, 10.0, THIN_ENDS, NOT_LATE, FITTED)
    assert 10.0 - low_s - LATE_S == pytest.approx(1.645 * THIN_ENDS.unseen_s)
    assert high_s - 10.0 == pytest.approx(1.645 * math.hypot(THIN_ENDS.unseen_s, THIN_ENDS.later_s))


def test_grams_may_be_fewer_by_what_came_after_the_end_and_by_a_drop_of_a_spout() -> None:
    low_g, high_g = between_grams(60.0, 0.1, 0.0, thin=False)
    assert high_g - 60.0 == pytest.approx(1.645 * 0.1)
    assert 60.0 - low_g - (high_g - 60.0) == pytest.approx(DROPS_G)
    assert between_grams(60.0, 0.1, 0.0, thin=True)[0] - low_g == pytest.approx(DROPS_G)
    fewer_g, same_g = between_grams(60.0, 0.1, 0.2, thin=False)
    assert (low_g - fewer_g, same_g) == (pytest.approx(AFTER * 0.2), high_g)


def test_no_less_than_nothing_was_poured() -> None:
    assert between_grams(0.1, 1.0, 0.0, thin=True)[0] == 0.0


@pytest.mark.parametrize("fall_m", [0.0, 0.02, 0.05, 0.1, 0.18])
def test_the_ranges_hold_the_truth_however_far_the_stream_falls(fall_m: float) -> None:
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, fall_m=(fall_m, fall_m)))
    for pour, true in zip(read(time_s, weight_g).pours, truth.pours, strict=True):
        assert pour.start_between_s is not None and pour.end_between_s is not None
        assert pour.start_between_s[0] <= true.start_s <= pour.start_between_s[1]
        assert pour.end_between_s[0] <= true.end_s <= pour.end_between_s[1]

"""What rises like water and is none."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import Event, analyse
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response
from logger.curve.pours.finding import Rise
from logger.curve.pours.water_curve import Curve
from logger.curve.taken_out.solids import told_apart
from tests.benchmarks.curve_suite import PLANS, THREE_POURS
from tests.logger.curve.staged import CALM, assert_pours, dosed, kinds, read, staged

IMMERSION = PLANS[2]


def test_a_dose_is_poured_in_by_hand_at_any_pace() -> None:
    """One to four portions, each 0.4 to 1.5 s long, then a tare; a lag of 0.3 s, of which the hand that sets
    the vessel down hides up to 0.1 s.
    """
    for portions in (1, 2, 3, 4):
        conditions = replace(
            CALM, dose_chance=1.0, vessel_chance=1.0, lag_s=(0.3, 0.3), dollops=(portions, portions)
        )
        for seed in range(3):
            time_s, weight_g, truth = staged(THREE_POURS, conditions, seed)
            brew = analyse(time_s, weight_g)
            assert_pours(brew, truth, start_s=0.25, end_s=0.6, grams=0.06)
            assert kinds(brew) == ["vessel-on", "tare", "dose", "tare"]
            assert brew.events[3].change_g == pytest.approx(truth.events[3].change_g, abs=0.3)


def test_a_bloom_right_after_the_tare_is_water() -> None:
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(14.0, 14.0)))
    weight_g = dosed(time_s, weight_g, 6.0, [8.0, 7.0])
    weight_g = np.where(time_s >= 12.5, weight_g - 15.0, weight_g)
    brew = read(time_s, weight_g)
    assert_pours(brew, truth)
    assert kinds(brew) == ["dose", "tare"]


def test_a_lid_laid_on_is_no_water() -> None:
    conditions = replace(CALM, lid_chance=1.0, lag_s=(0.3, 0.3), vessel_chance=1.0)
    for seed in range(5):
        time_s, weight_g, truth = staged(IMMERSION, conditions, seed)
        brew = analyse(time_s, weight_g)
        assert_pours(brew, truth, start_s=0.2, end_s=0.55, grams=0.1)
        assert kinds(brew) == ["vessel-on", "tare", "vessel-on"]
        assert brew.events[-1].change_g == pytest.approx(truth.events[-1].change_g, abs=1.0)


@pytest.mark.parametrize(("lid_g", "lasts_s"), [(30.0, 0.6), (40.0, 0.9), (55.0, 1.2)])
@pytest.mark.parametrize("step_g", [0.5, 1.0])
def test_no_kettle_pours_as_fast_as_a_lid_comes(lid_g: float, lasts_s: float, step_g: float) -> None:
    """Through two slow stages it rises for seconds, like a short pour; but of more than 40 g a second."""
    time_s = np.arange(0.0, 60.0, 0.05)
    load_g = 2.5 * np.clip(time_s - 14.0, 0.0, 30.0) + lid_g * np.clip((time_s - 50.0) / lasts_s, 0.0, 1.0)
    load_g += 300.0 * (time_s > 2.0)
    share = 1.0 - np.exp(-0.05 / 0.75)
    stages = [share], [1.0, share - 1.0]
    shown_g = lfilter(*stages, lfilter(*stages, load_g)) + np.random.default_rng(1).normal(
        0.0, 0.02, time_s.size
    )
    brew = analyse(time_s, step_g * np.round(shown_g / step_g))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([75.0], abs=1.0)
    assert kinds(brew) == ["vessel-on", "vessel-on"]


def test_solids_are_taken_out_of_the_weight() -> None:
    time_s, weight_g, _ = staged(THREE_POURS, replace(CALM, lead_s=(14.0, 14.0)))
    brew = read(time_s, dosed(time_s, weight_g, 2.0, [8.0, 4.0, 3.0]))
    assert brew.weight_g[brew.time_s < 13.5] == pytest.approx(0.0, abs=9.0)
    settled = (brew.time_s > 7.0) & (brew.time_s < 13.5)
    assert brew.weight_g[settled] == pytest.approx(0.0, abs=0.05)
    assert brew.weight_g[-1] == pytest.approx(250.0, abs=0.1)


def test_a_wet_spoon_leaves_some_of_its_water() -> None:
    time_s, weight_g, truth = staged(THREE_POURS)
    laid_s = truth.pours[-1].end_s + 6.0
    spoon_g = 15.0 * np.clip((time_s - laid_s) / 1.2, 0.0, 1.0) - 13.4 * (time_s > laid_s + 5.0)
    brew = read(time_s, weight_g + spoon_g)
    assert_pours(brew, truth)


@pytest.mark.parametrize("lasts_s", [0.2, 0.6, 1.2])
def test_a_spoon_laid_on_and_taken_off_is_no_water(lasts_s: float) -> None:
    time_s, weight_g, truth = staged(THREE_POURS)
    laid_s = truth.pours[-1].end_s + 6.0
    spoon_g = 11.0 * np.clip((time_s - laid_s) / lasts_s, 0.0, 1.0) * (time_s < laid_s + 4.0)
    brew = read(time_s, weight_g + spoon_g)
    assert_pours(brew, truth)


@pytest.mark.parametrize(("stage_s", "tared_g", "doses"), [(0.6, 361.0, 0), (0.1, 361.0, 1), (0.6, 22.0, 1)])
def test_what_a_slow_scale_still_shows_of_a_vessel_is_no_dose_unless_it_is_tared_alone(
    stage_s: float, tared_g: float, doses: int
) -> None:
    """22 g come within 7 s as a vessel is put down: on a scale of two stages of 0.6 s that is its rest."""
    time_s = np.arange(0.0, 60.0, 0.25)
    load_g = 22.0 * np.clip((time_s - 4.3) / 6.3, 0.0, 1.0) + 250.0 * np.clip(
        (time_s - 30.0) / 20.0, 0.0, 1.0
    )
    nothing = np.zeros(time_s.size, dtype=np.bool_)
    curve = Curve(time_s, load_g, nothing, time_s, load_g, 0.25, 0.03, Response(stage_s, 2))
    events = (Event("vessel-on", 1.8, 7.0, 348.0), Event("tare", 13.6, 13.8, -tared_g))
    water, solids = told_apart(curve, (arrived(4.3, 11.3, 22.0), arrived(30.0, 50.0, 250.0)), events)
    assert len(water) == 1
    assert len(solids) == doses


def arrived(start_s: float, end_s: float, gained_g: float) -> Rise:
    flow_g_s = gained_g / (end_s - start_s)
    start, end = (
        Edge(at_s, level_g, flow_g_s, 0.1, 0.0) for at_s, level_g in ((start_s, 0.0), (end_s, gained_g))
    )
    return Rise(start, end, flow_g_s, ((start_s, 0.0), (end_s, gained_g)))


@pytest.mark.parametrize("stage_s", [0.45, 0.5])
@pytest.mark.parametrize("tared_s", [6.8, None])
def test_a_small_pour_seconds_after_a_vessel_is_more_than_its_step_still_holds_back(
    stage_s: float, tared_s: float | None
) -> None:
    """18 g within 2.4 s, begun 3.8 s after 385 g were put down: of those 0.3 g are still to come."""
    time_s = np.arange(0.0, 70.0, 0.1)
    load_g = 385.0 * np.clip((time_s - 4.0) / 0.4, 0.0, 1.0) + 18.0 * np.clip((time_s - 7.8) / 2.4, 0.0, 1.0)
    load_g += 160.0 * np.clip((time_s - 30.0) / 25.0, 0.0, 1.0)
    share = 1.0 - np.exp(-0.1 / stage_s)
    weight_g = lfilter([share], [1.0, share - 1.0], load_g)
    if tared_s is not None:
        weight_g[time_s >= tared_s] -= float(np.interp(tared_s, time_s, weight_g))
    weight_g = np.round(weight_g + np.random.default_rng(3).normal(0.0, 0.04, time_s.size), 1)
    read = analyse(time_s, weight_g)
    assert [pour.poured_g for pour in read.pours] == pytest.approx([18.0, 160.0], abs=0.8)


@pytest.mark.parametrize("until_s", [19.6, 20.3])
def test_what_a_silence_hides_of_a_bloom_is_no_portion(until_s: float) -> None:
    """A stream that grows thinner, through two stages of lag, in whole grams; its last seconds are lost."""
    time_s = np.arange(0.0, 110.0, 0.0625)
    since_s = np.clip(time_s - 11.4, 0.0, 9.3)
    load_g = 5.4 * since_s - 0.2 * since_s**2 + 5.8 * np.clip(time_s - 35.0, 0.0, 11.0)
    load_g += 6.25 * np.clip(time_s - 55.0, 0.0, 24.0)
    share = 1.0 - np.exp(-0.0625 / 0.46)
    stages = [share], [1.0, share - 1.0]
    seen = (time_s < 18.3) | (time_s > until_s)
    brew = analyse(time_s[seen], np.round(lfilter(*stages, lfilter(*stages, load_g)))[seen])
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([32.9, 63.8, 150.0], abs=1.0)

"""What the weight does by itself while water is poured, measured while none is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import Truth
from logger.curve import Analysis
from logger.curve.pours.drying import Rest, told_by
from tests.benchmarks.curve_suite import PLANS, THREE_POURS, Floats, filter_plan
from tests.logger.curve.staged import CALM, read, staged


def worst_g(found: Analysis, truth: Truth) -> float:
    """The largest error of a pour's grams."""
    return max(
        abs(pour.poured_g - true.poured_g) for pour, true in zip(found.pours, truth.pours, strict=True)
    )


@pytest.mark.parametrize("dries_g_s", [0.005, 0.01, 0.02])
def test_what_dries_while_water_is_poured_is_counted_as_poured(dries_g_s: float) -> None:
    """Pours of 8 to 20 s lose up to 0.4 g meanwhile."""
    conditions = replace(CALM, evaporation_g_s=(dries_g_s, dries_g_s))
    for seed in range(3):
        time_s, weight_g, truth = staged(THREE_POURS, conditions, seed)
        assert worst_g(read(time_s, weight_g), truth) < 0.04 + 4.0 * dries_g_s


@pytest.mark.parametrize("drift_g_s", [-0.008, 0.008])
def test_a_load_cell_that_creeps_the_other_way_as_well(drift_g_s: float) -> None:
    time_s, weight_g, truth = staged(THREE_POURS)
    found = read(time_s, weight_g + drift_g_s * time_s)
    assert worst_g(found, truth) < 0.06
    assert found.drift_g == pytest.approx(drift_g_s * (time_s[-1] - time_s[0]), abs=0.15)


def test_what_drains_off_the_pan_between_two_pours_says_nothing_of_the_pours() -> None:
    """Half a gram a second is no drying; what is taken off or shaken there is left out as well."""
    time_s, weight_g, truth = staged(THREE_POURS)
    since_s = truth.pours[0].end_s + 3.0
    drained_g = np.clip((time_s - since_s) * 0.5, 0.0, 4.0)
    assert worst_g(read(time_s, weight_g - drained_g), truth) < 0.06
    lifted = (time_s > since_s + 3.0) & (time_s < since_s + 5.0)
    assert worst_g(read(time_s, weight_g - 300.0 * lifted), truth) < 0.06


def test_an_espressos_last_drops_are_no_drift_of_the_scale() -> None:
    time_s, weight_g, truth = staged(PLANS[1])
    dripped_g = 0.02 * np.maximum(time_s - truth.pours[0].end_s - 1.0, 0.0)
    plain, dripping = read(time_s, weight_g), read(time_s, weight_g + dripped_g)
    assert dripping.pours[0].poured_g == pytest.approx(plain.pours[0].poured_g, abs=0.15)


def test_a_thin_stream_among_a_kettles_dries_like_the_others() -> None:
    """Sixty grams at 2 g/s take half a minute, in which 0.3 g dry; an espresso alone is left as it is."""
    plan = filter_plan((0, 45, 6), (40, 105, 2), (100, 200, 6))
    time_s, weight_g, truth = staged(plan, replace(CALM, evaporation_g_s=(0.01, 0.01)))
    assert worst_g(read(time_s, weight_g), truth) < 0.12


def test_where_no_rest_tells_the_range_allows_for_it() -> None:
    """The recording stops two seconds after the only pour: a longer pour is then less well known."""
    widths_g = []
    for flow_g_s in (12.0, 4.0):
        time_s, weight_g, truth = staged(filter_plan((0, 300, flow_g_s), dose_g=20.0, method="immersion"))
        seen = time_s < truth.pours[-1].end_s + 2.0
        low_g, high_g = read(time_s[seen], weight_g[seen]).pours[-1].poured_between_g or (0.0, 0.0)
        assert low_g <= truth.pours[-1].poured_g <= high_g
        widths_g.append(high_g - low_g)
    assert 1.5 * widths_g[0] < widths_g[1]


def walked_g(size: int, step_s: float, walk_g: float, chance: np.random.Generator) -> Floats:
    """A random walk of so much after a second, from nothing."""
    return np.asarray(np.cumsum(chance.normal(0.0, walk_g * np.sqrt(step_s), size)))


@pytest.mark.parametrize("walk_g", [0.0, 0.01, 0.03])
def test_a_walk_is_told_from_noise_and_from_drift_by_the_thirds_of_rests(walk_g: float) -> None:
    """Twelve rests of 20 s at 10 Hz that fall by 0.01 g/s."""
    chance, third, told = np.random.default_rng(3), 67, []
    for _ in range(40):
        rests = []
        for _ in range(12):
            weight_g = walked_g(3 * third, 0.1, walk_g, chance) + chance.normal(0.0, 0.03, 3 * third)
            first_g, middle_g, last_g = weight_g.reshape(3, third).mean(axis=1) - [0.0, 0.067, 0.134]
            noise_g2 = 0.03**2 / third
            rests.append(Rest(6.7, last_g - first_g, first_g + last_g - 2.0 * middle_g, noise_g2))
        told.append(told_by(rests))
    assert np.mean([each.g_s for each in told]) == pytest.approx(-0.01, abs=0.002)
    walks_g = np.sqrt([each.walk_g2_s for each in told])
    assert np.median(walks_g) == pytest.approx(walk_g, abs=0.003, rel=0.25)
    held = [abs(each.g_s + 0.01) < 1.645 * each.sd_g_s for each in told]
    assert np.mean(held) >= 0.75


@pytest.mark.parametrize("walk_g", [0.0, 0.015, 0.03])
def test_the_ranges_of_grams_hold_on_a_scale_that_wanders_and_stay_narrow_on_one_that_rests(
    walk_g: float,
) -> None:
    held, widths_g = [], []
    for seed in range(12):
        time_s, weight_g, truth = staged(THREE_POURS, CALM, seed)
        chance = np.random.default_rng(seed)
        wandering_g = weight_g + walked_g(time_s.size, float(np.median(np.diff(time_s))), walk_g, chance)
        for pour, true in zip(read(time_s, wandering_g).pours, truth.pours, strict=True):
            low_g, high_g = pour.poured_between_g or (0.0, 0.0)
            held.append(low_g <= true.poured_g <= high_g)
            widths_g.append(high_g - low_g)
    assert np.mean(held) >= 0.8
    assert np.median(widths_g) < 0.2 + 15.0 * walk_g

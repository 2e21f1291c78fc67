"""What the weight does by itself while water is poured, measured while none is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import Truth
from logger.curve import Analysis
from tests.benchmarks.curve_suite import PLANS, THREE_POURS, filter_plan
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
    for plan in (PLANS[2], PLANS[6]):
        time_s, weight_g, truth = staged(plan)
        seen = time_s < truth.pours[-1].end_s + 2.0
        low_g, high_g = read(time_s[seen], weight_g[seen]).pours[-1].poured_between_g or (0.0, 0.0)
        assert low_g <= truth.pours[-1].poured_g <= high_g
        widths_g.append(high_g - low_g)
    assert widths_g[0] < widths_g[1]

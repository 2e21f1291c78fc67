"""Ends of spouts that drip on, beside the least error that any method could have.

The bound is worked out in ``docs/end_bound.py`` (van Trees, Detection, Estimation, and Modulation Theory,
part I, 1968, section 2.4); ``docs/curve-accuracy.md`` has the figures.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from docs.end_bound import (
    UNKNOWN_LAG_SD_S,
    fading_end_bound_s,
    fading_end_g,
    shot_end_bound_s,
    shot_end_g,
)
from docs.end_bound_of_brews import bounds_and_errors_s, soon_bounds_and_errors_s, tail
from drivers.simulated import MEDIUM, simulate
from logger.curve.edges.around import Seen
from logger.curve.edges.edge import fit_edge
from logger.curve.edges.posterior import ENDS_AT_G_S, know_ends
from logger.curve.edges.shapes import Response
from tests.benchmarks.curve_suite import ESPRESSO, THREE_POURS, brews

DRIP_G_S, FADE_S = 0.6, 0.45
PARTS = np.array([60.0, 7.0, 0.0, 5.03, 0.4, DRIP_G_S, FADE_S])
TRUE_S = 5.03 + FADE_S * np.log(DRIP_G_S / ENDS_AT_G_S)
CASES = [(0.03, Response(0.2)), (0.1, Response(0.2)), (0.1, Response(0.45)), (0.25, Response(0.45, 2))]


@pytest.mark.parametrize(("noise_g", "response"), CASES)
def test_the_error_of_a_dripping_end_is_of_the_order_of_the_bound(noise_g: float, response: Response) -> None:
    """What a hand's own ramp may hide is taken for the ramp: the end is read near where the stream stops.

    That is 0.8 s before the drip is over, less what the chance of a drip adds. Root mean square of 40 seeds.
    """
    time_s = np.arange(2.0, 9.0, 0.1)
    off_s = []
    for seed in range(40):
        noise = np.random.default_rng(seed).normal(0.0, noise_g, time_s.size)
        weight_g = fading_end_g(time_s, PARTS, response) + noise
        edge = fit_edge(time_s, weight_g, np.arange(3.0, 7.05, 0.1), response, is_start=False)
        [known] = know_ends([Seen(time_s, weight_g, edge, noise_g)], response)
        assert known is not None
        off_s.append(known.time_s - TRUE_S)
    rms_s = float(np.sqrt(np.mean(np.square(off_s))))
    bound_s = fading_end_bound_s(noise_g, response)
    assert 0.8 * bound_s < rms_s < max(4.5 * bound_s, 0.65)


def test_the_bound_grows_with_the_noise_and_shrinks_with_the_drip() -> None:
    quiet, usual, loud = (fading_end_bound_s(noise_g, Response(0.3)) for noise_g in (0.03, 0.1, 0.3))
    assert quiet < usual < loud
    little, much = (fading_end_bound_s(0.1, Response(0.3), drip_g_s=drip) for drip in (0.3, 1.2))
    assert much < little


def test_two_lags_in_a_row_hide_a_drip_better_than_one() -> None:
    assert fading_end_bound_s(0.1, Response(0.45, 2)) > fading_end_bound_s(0.1, Response(0.45))


def test_an_unknown_lag_hides_the_end_of_an_espresso() -> None:
    """The lag rounds the same bend as the fade does, and nothing tells one from the other."""
    known, unknown = (shot_end_bound_s(0.03, Response(0.45), sd_s) for sd_s in (0.0, UNKNOWN_LAG_SD_S))
    assert known == pytest.approx(0.03, abs=0.01)
    assert unknown > 5.0 * known


@pytest.mark.parametrize(("noise_g", "response"), CASES)
def test_the_end_of_an_espresso_is_read_near_the_bound(noise_g: float, response: Response) -> None:
    """The bound knows in what way it fades and that nothing drips after it; what is read has to find out.

    Root mean square of 40 seeds.
    """
    time_s, ends_s = np.arange(0.0, 12.0, 0.1), 5.03 + 0.8 * np.log(2.0 / ENDS_AT_G_S)
    parts = np.array([36.0, 2.0, 0.0, 5.03, 0.8, response.delay_s])
    off_s = []
    for seed in range(40):
        noise = np.random.default_rng(seed).normal(0.0, noise_g, time_s.size)
        weight_g = shot_end_g(time_s, parts, response.order) + noise
        edge = fit_edge(time_s, weight_g, np.arange(4.0, 9.05, 0.1), response, is_start=False)
        [known] = know_ends([Seen(time_s, weight_g, edge, noise_g, from_bed=True)], response)
        assert known is not None
        off_s.append(known.time_s - ends_s)
    rms_s, bound_s = float(np.sqrt(np.mean(np.square(off_s)))), shot_end_bound_s(noise_g, response)
    assert rms_s < max(1.7 * bound_s, 0.15)


def test_the_tail_of_a_simulated_shot_fades_as_its_machine_does() -> None:
    brew = simulate(ESPRESSO, 3, replace(MEDIUM, after_drip_s=(0.6, 0.6)))
    [pour] = brew.truth.pours
    left_g_s, fade_s = tail(brew, pour)
    assert left_g_s == pytest.approx(pour.mean_flow_g_s, rel=0.1)
    assert fade_s == pytest.approx(0.6, rel=0.1)


def test_the_tail_of_a_stream_that_stops_clean_is_next_to_nothing() -> None:
    brew = simulate(THREE_POURS, 3, replace(MEDIUM, dribble_g_s=(0.0, 0.0), ramp_s=(0.05, 0.06)))
    assert all(tail(brew, pour)[1] < 0.1 for pour in brew.truth.pours)


def test_brews_are_read_no_better_than_the_bound_allows() -> None:
    """The bound knows the scale and the spout; what was read knows neither."""
    some = brews(MEDIUM, 16, 60)
    found = [each for brew in some for each in bounds_and_errors_s(brew) if not each[0]]
    bounds_s, errors_s = np.array([(bound, error) for _, bound, error in found]).T
    assert errors_s.size > 20
    assert np.sqrt(np.mean(np.square(bounds_s))) < np.sqrt(np.mean(np.square(errors_s)))
    assert np.median(errors_s) < 8.0 * np.median(bounds_s)


def test_what_live_has_told_soon_after_an_end_is_no_better_than_the_bound_of_the_readings_by_then() -> None:
    """Fewer readings bound an end less; what had not been told is counted without an error."""
    soon = [each for brew in brews(MEDIUM, 8, 60) for each in soon_bounds_and_errors_s(brew)]
    late = [each for brew in brews(MEDIUM, 8, 60) for each in bounds_and_errors_s(brew)]
    assert len(soon) == sum(len(brew.truth.pours) for brew in brews(MEDIUM, 8, 60))
    told = [(bound_s, off_s) for _, bound_s, off_s in soon if off_s is not None]
    assert len(told) >= 0.8 * len(soon)
    assert np.mean([each[1] for each in soon]) > np.mean([each[1] for each in late])
    bounds_s, errors_s = np.array(told).T
    assert np.sqrt(np.mean(np.square(bounds_s))) < np.sqrt(np.mean(np.square(errors_s)))

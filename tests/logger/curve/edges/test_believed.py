"""What of the samples around an edge is believed, and how far."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from logger.curve.edges.around import Around, Seen
from logger.curve.edges.believed import (
    DROPS_HIDE_G,
    FOOT_S,
    RESTS_G,
    SHAPE_S,
    STRAYS,
    TIPS_S,
    believed_at_end,
    believed_at_start,
    once_begun,
)
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response

TIME_S = np.arange(0.0, 7.0, 0.25)


def seen(flow_g_s: float = 6.0, noise_g: float = 0.02, **more: bool) -> Seen:
    edge = Edge(time_s=3.0, ramp_s=0.4, level_g=60.0, flow_g_s=flow_g_s, misfit_g2=1.0)
    return Seen(TIME_S, np.full_like(TIME_S, 60.0), edge, noise_g, **more)


def sd_g(believed: Seen) -> np.ndarray:
    """The standard deviation with which each sample counts."""
    assert believed.believed is not None
    return believed.noise_g / believed.believed


def restless() -> Seen:
    """A display that never repeats itself."""
    return replace(seen(), weight_g=60.0 + 0.01 * np.cos(np.pi * np.arange(TIME_S.size)))


def test_a_hand_s_ramp_hides_what_it_brings_within_a_moment_until_the_stream_is_over() -> None:
    counted_g = sd_g(believed_at_end(restless(), Response(0.35)))
    assert counted_g[TIME_S <= 3.0 + FOOT_S] == pytest.approx(np.hypot(0.02, SHAPE_S * 6.0))
    assert np.all(np.diff(counted_g[TIME_S > 3.0 + FOOT_S]) <= 0.0)


def test_long_after_a_stream_only_single_drops_hide_anything() -> None:
    assert sd_g(believed_at_end(restless(), Response(0.35)))[-1] == pytest.approx(
        np.hypot(0.02, DROPS_HIDE_G), rel=1e-3
    )


def test_a_slow_scale_shows_the_ramp_for_longer() -> None:
    soon = np.searchsorted(TIME_S, 3.75)
    quick_g, slow_g = (sd_g(believed_at_end(restless(), Response(lag_s)))[soon] for lag_s in (0.2, 0.8))
    assert slow_g > 1.5 * quick_g


ESPRESSOS = pytest.mark.parametrize(
    "espresso", [seen(flow_g_s=2.0, from_bed=True), seen(flow_g_s=4.0, all_thin=True, from_bed=True)]
)
LATER_S = np.arange(0.0, 10.0, 0.25)


def told_later(espresso: Seen, weight_g: np.ndarray) -> Seen:
    """Seen until 7 s after it: single drops tell."""
    return replace(espresso, time_s=LATER_S, weight_g=weight_g)


@ESPRESSOS
def test_an_espresso_fades_for_seconds_and_is_believed_alike_all_along(espresso: Seen) -> None:
    restless_g = 60.0 + 0.01 * np.cos(np.pi * np.arange(LATER_S.size))
    counted = believed_at_end(told_later(espresso, restless_g), Response(0.35)).believed
    assert counted == pytest.approx(1.0)


@ESPRESSOS
def test_a_display_that_stands_still_at_last_says_no_more_than_once(espresso: Seen) -> None:
    """1 g of rounding, and little else: 20 repeats leave as much unsure as one reading."""
    coarse = replace(espresso, noise_g=0.29, edge=replace(espresso.edge, misfit_g2=1e-9))
    weight_g = np.floor(np.minimum(50.0 + 2.0 * LATER_S, 60.0))
    repeats = int(np.count_nonzero(weight_g == 60.0))
    each_g = sd_g(believed_at_end(told_later(coarse, weight_g), Response(0.35)))
    assert np.sum(each_g[-repeats:] ** -2.0) ** -0.5 == pytest.approx(0.29, rel=1e-3)
    assert each_g[:-repeats] == pytest.approx(0.29, rel=1e-3)


def test_a_kettle_s_end_on_a_display_that_stands_still_is_told_by_one_reading_of_it() -> None:
    """What a slow scale still owes may be less than a step, and then as many repeats leave it unsure."""
    coarse = replace(seen(noise_g=0.29), weight_g=np.floor(np.minimum(43.5 + 6.0 * TIME_S, 60.0)))
    repeats = int(np.count_nonzero(coarse.weight_g == 60.0))
    each_g = sd_g(believed_at_end(coarse, Response(0.35)))
    assert np.sum(each_g[-repeats:] ** -2.0) ** -0.5 == pytest.approx(np.hypot(0.29, 0.02), abs=0.02)
    assert np.all(each_g[:-repeats] < 0.4)


@ESPRESSOS
def test_shortly_after_an_end_that_it_stands_still_tells_that_it_has_stopped(espresso: Seen) -> None:
    assert believed_at_end(espresso, Response(0.35)).believed is None


def begins(whole: Seen, response: Response) -> np.ndarray:
    """The standard deviation with which each sample counts for a start at 3 s."""
    around = Around.of([believed_at_start(whole, response)])
    begun = once_begun(around, around.since_s(np.zeros(1)))
    return np.asarray(begun.noise_g[0] / begun.believed[0, 0])


def test_before_the_first_water_a_hand_hides_nothing_and_all_of_its_ramp_once_it_has_tipped() -> None:
    sd_g, rests_g = begins(seen(), Response(0.0)), np.hypot(0.02, RESTS_G)
    assert sd_g[TIME_S <= 3.0] == pytest.approx(rests_g)
    assert sd_g[TIME_S >= 3.0 + TIPS_S] == pytest.approx(np.hypot(rests_g, SHAPE_S * 6.0))
    assert rests_g < sd_g[TIME_S == 3.25] < 0.6 * sd_g[-1]


def test_before_a_start_a_scale_that_does_not_rest_is_believed_no_better_than_it_shows() -> None:
    leans_g = 0.1 * np.sin(3.0 * TIME_S)
    sd_g = begins(replace(seen(), weight_g=60.0 + leans_g), Response(0.0))
    assert 0.05 < sd_g[0] < 0.15
    sd_g = begins(replace(seen(), weight_g=60.0 + 20.0 * leans_g), Response(0.0))
    assert sd_g[0] == pytest.approx(np.hypot(0.02, SHAPE_S * 6.0))


def test_a_slow_scale_shows_later_what_the_ramp_hides() -> None:
    soon = np.searchsorted(TIME_S, 3.5)
    quick_g, slow_g = (begins(seen(), Response(lag_s))[soon] for lag_s in (0.0, 0.8))
    assert slow_g < 0.6 * quick_g


def test_a_ramp_that_is_as_good_as_straight_hides_hardly_anything() -> None:
    straight = replace(seen(), edge=replace(seen().edge, misfit_g2=1e-6))
    assert begins(straight, Response(0.2)) == pytest.approx(0.02, rel=0.05)


def espresso_begins(noise_g: float = 0.02, roughly_g: float = 0.0) -> np.ndarray:
    """How far each sample is believed of an espresso that is thought to begin at 3 s."""
    shaken_g = roughly_g * np.where(TIME_S > 3.0, np.cos(np.pi * np.arange(TIME_S.size)), 0.0)
    whole = seen(flow_g_s=2.0, noise_g=noise_g, all_thin=True)
    return begins(replace(whole, weight_g=whole.weight_g + shaken_g), Response(0.35))


def test_before_its_first_drop_an_espresso_is_believed_to_what_rests_and_less_and_less_after_it() -> None:
    sd_g = espresso_begins()
    assert sd_g[TIME_S <= 3.0] == pytest.approx(RESTS_G)
    since_s = TIME_S[TIME_S > 3.0] - 3.0
    assert sd_g[TIME_S > 3.0] == pytest.approx(np.hypot(RESTS_G, STRAYS * 2.0 * since_s))


def test_drops_that_strike_the_pan_shake_what_comes_after_them_alone() -> None:
    calm_g, struck_g = espresso_begins(), espresso_begins(roughly_g=0.3)
    assert struck_g[TIME_S <= 3.0] == pytest.approx(calm_g[TIME_S <= 3.0])
    assert np.all(struck_g[TIME_S > 3.0] > 0.3)

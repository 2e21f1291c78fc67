"""A level that was seen for a moment only is known the less well, the slower the scale."""

from __future__ import annotations

import math

import numpy as np
import pytest

from logger.curve import analyse
from logger.curve.brew import Event, EventKind, Pour
from logger.curve.edges.shapes import Response, end_shape
from logger.curve.pours.fresh_levels import OWES_G, OWES_OF_POUR_G, SEEN_S, fresh_sd_g
from tests.benchmarks.curve_suite import Floats

LAG_S = 0.5


def sd_g(*events: tuple[EventKind, float, float], delay_s: float = LAG_S) -> float:
    """Of a pour from 10 to 20 s."""
    return fresh_sd_g(10.0, 20.0, [Event(kind, from_s, to_s, 0.0) for kind, from_s, to_s in events], delay_s)


def test_a_level_that_nothing_moved_is_as_known_as_its_readings_say() -> None:
    assert sd_g() == 0.0
    assert sd_g(("gap", 9.0, 9.9), ("gap", 20.1, 22.0), ("unit", 9.9, 9.9)) == 0.0
    assert sd_g(("tare", 9.5, 9.5), delay_s=0.0) == 0.0


def test_what_is_owed_fades_with_the_scales_lag() -> None:
    """The mean of it over what was seen: against the sum of many moments."""
    for seen_s in (0.3, 1.0, 2.5, 5.0):
        moments_s = np.linspace(max(seen_s - SEEN_S, 0.0), seen_s, 100_001)
        mean = float(np.exp(-moments_s / LAG_S).mean())
        assert sd_g(("tare", 10.0 - seen_s, 10.0 - seen_s)) == pytest.approx(OWES_G * mean, rel=1e-3)
    assert sd_g(("tare", 9.0, 9.0), delay_s=1.0) > 1.5 * sd_g(("tare", 9.0, 9.0), delay_s=0.4)


def test_both_sides_count_and_of_each_the_nearest() -> None:
    before_g, after_g = sd_g(("tare", 9.0, 9.0)), sd_g(("stir", 20.5, 24.0))
    both_g = sd_g(
        ("vessel-on", 2.0, 3.0), ("tare", 9.0, 9.0), ("stir", 20.5, 24.0), ("vessel-off", 30.0, 31.0)
    )
    assert both_g == pytest.approx(math.hypot(before_g, after_g))
    assert sd_g(("knock", 9.5, 10.5), ("knock", 19.5, 20.5)) == pytest.approx(
        math.hypot(OWES_G, OWES_OF_POUR_G)
    )


def poured(tare_s: float, seed: int) -> Pour:
    """60 g at 6 g/s from 20 s on, after a vessel of 120 g was set down and tared; a lag of 0.6 s, 0.05 g."""
    chance, response = np.random.default_rng(seed), Response(0.6)
    time_s = np.arange(0.0, 45.0, 0.1)
    since_s = time_s - (tare_s - 1.0)
    vessel_g = np.where(since_s > 0.0, 120.0 * (1.0 - np.exp(-since_s.clip(0.0) / response.delay_s)), 0.0)
    water_g = 60.0 + 6.0 * end_shape(time_s - 30.2, np.array(0.3), response)
    water_g = np.maximum(water_g, 0.0)
    tared_g = float(np.interp(tare_s, time_s, vessel_g))
    shown_g: Floats = vessel_g + water_g - np.where(time_s >= tare_s, tared_g, 0.0)
    (pour,) = analyse(time_s, np.round(shown_g + chance.normal(0.0, 0.05, time_s.size), 2)).pours
    return pour


def width_g(pour: Pour) -> float:
    assert pour.poured_between_g is not None
    return pour.poured_between_g[1] - pour.poured_between_g[0]


@pytest.mark.parametrize("seed", range(4))
def test_grams_that_count_from_a_tare_just_before_them_are_less_sure(seed: int) -> None:
    assert width_g(poured(19.2, seed)) > 1.5 * width_g(poured(12.0, seed))

"""A thin stream that is jolted as it stops."""

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from logger.curve.brew import Event
from logger.curve.readings.timebase import Grid
from logger.curve.taken_out.jolts import find_jolts
from tests.benchmarks.curve_suite import Floats

TIME_S = np.arange(0.0, 45.0, 0.1)
LAG_S, STARTS_S, STOPS_S, FADES_S = 0.6, 10.0, 30.0, 0.4
LEAST_G = 0.8


def espresso(knock_g: float, at_s: float, flow_g_s: float = 2.0, stops_s: float = STOPS_S) -> Floats:
    """What a scale of first order shows, struck for 0.1 s; by scipy's answer."""
    fades = np.exp(-np.maximum(TIME_S - stops_s, 0.0) / FADES_S)
    flow = flow_g_s * np.clip((TIME_S - STARTS_S) / 4.0, 0.0, 1.0) * fades
    pan_g = np.cumsum(flow) * 0.1 + np.where((at_s <= TIME_S) & (at_s + 0.1 > TIME_S), knock_g, 0.0)
    shown = signal.lsim(signal.TransferFunction([1.0], [LAG_S, 1.0]), pan_g, TIME_S)[1]
    return shown + np.random.default_rng(1).normal(0.0, 0.03, TIME_S.size)


def found(weight_g: Floats) -> list[Event]:
    grid = Grid(TIME_S, weight_g, 0.1, np.zeros(TIME_S.size, dtype=np.bool_))
    return find_jolts(grid, 0.03, LEAST_G, LAG_S)


@pytest.mark.parametrize("at_s", [29.6, 30.0, 30.2])
def test_a_jolt_as_the_stream_stops_is_found_until_the_scale_has_forgotten_it(at_s: float) -> None:
    (jolt,) = found(espresso(15.0, at_s))
    assert jolt.kind == "knock"
    assert jolt.start_s == pytest.approx(at_s, abs=0.35)
    left_g = 15.0 * 0.1 / LAG_S * np.exp(-(jolt.end_s - at_s) / LAG_S)
    assert left_g < 0.1


@pytest.mark.parametrize("flow_g_s", [0.6, 1.2, 2.0, 3.2])
def test_a_stream_that_stops_unstruck_was_not(flow_g_s: float) -> None:
    assert found(espresso(0.0, 30.0, flow_g_s)) == []


def test_a_stream_that_grows_and_goes_on_was_not_struck() -> None:
    """A thin bloom, then a pour: it does not fall behind its line again."""
    pan_g = 1.5 * np.clip(TIME_S - 10.0, 0.0, 10.0) + 7.0 * np.clip(TIME_S - 20.0, 0.0, 10.0)
    assert found(pan_g) == []


def test_coffee_that_comes_in_portions_was_not_struck() -> None:
    """Twelve spoons of 1.5 g, one every 0.8 s: each jumps, and the last one falls behind the line of all."""
    spoons_g = 1.5 * np.clip(np.floor((TIME_S - 10.0) / 0.8), 0.0, 12.0)
    shown = signal.lsim(signal.TransferFunction([1.0], [LAG_S / 3.0, 1.0]), spoons_g, TIME_S)[1]
    assert found(shown) == []


def test_what_strikes_a_pour_of_a_kettle_is_left_to_others() -> None:
    assert found(espresso(15.0, 30.0, flow_g_s=6.0)) == []


def test_an_end_under_a_jolt_is_not_where_the_display_jumped() -> None:
    """Without that it is read 1.0 s early: the last grams seem to have come at once."""
    ends_s = STOPS_S + FADES_S * np.log(2.0 / 0.1)
    (pour,) = analyse(TIME_S, np.round(espresso(15.0, 30.2), 1), response_s=LAG_S).pours
    assert pour.end_s == pytest.approx(ends_s, abs=0.5)
    assert pour.end_between_s is not None
    assert pour.end_between_s[0] < ends_s < pour.end_between_s[1]

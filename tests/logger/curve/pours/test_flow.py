"""Flow against scipy, the published kernels, and what least squares says of its noise."""

import numpy as np
import pytest
from scipy import signal, stats

from logger.curve.pours.flow import flow_on_pan_g_s, half_for, slope_g_s, slope_sd_g_s, smooth_g
from tests.benchmarks.curve_suite import Floats

STEP_S = 0.1
ROUNDING_G = 0.1 / np.sqrt(12.0)
"""Standard uncertainty of a display with steps of 0.1 g: q / sqrt(12), JCGM 100:2008 (GUM) F.2.2.1."""


def wavy() -> Floats:
    time_s = np.arange(0.0, 60.0, STEP_S)
    rng = np.random.default_rng(3)
    return 40.0 * np.sin(time_s / 4.0) + 3.0 * time_s + rng.normal(0.0, 0.2, time_s.size)


@pytest.mark.parametrize("half", [2, 5, 8, 20])
def test_slope_value_and_bend_are_those_of_scipy(half: int) -> None:
    """scipy.signal.savgol_filter, second degree, same window; the ends are carried on in another way."""
    weight_g, inside = wavy(), slice(half, -half)
    window = 2 * half + 1
    slope = signal.savgol_filter(weight_g, window, 2, deriv=1, delta=STEP_S)
    bend = signal.savgol_filter(weight_g, window, 2, deriv=2, delta=STEP_S)
    value = signal.savgol_filter(weight_g, window, 2)
    assert slope_g_s(weight_g, half, STEP_S)[inside] == pytest.approx(slope[inside], abs=1e-9)
    assert smooth_g(weight_g, half)[inside] == pytest.approx(value[inside], abs=1e-9)
    assert flow_on_pan_g_s(weight_g, half, STEP_S, 0.0)[inside] == pytest.approx(slope[inside], abs=1e-9)
    late = flow_on_pan_g_s(weight_g, half, STEP_S, 0.4)
    assert late[inside] == pytest.approx((slope + 0.4 * bend)[inside], abs=1e-9)


def test_the_kernels_are_the_published_ones() -> None:
    """Savitzky and Golay, Anal. Chem. 36:1627 (1964): tables of convolution integers."""
    impulse = np.zeros(41)
    impulse[20] = 1.0
    assert smooth_g(impulse, 2)[18:23] * 35 == pytest.approx([-3, 12, 17, 12, -3])
    assert smooth_g(impulse, 3)[17:24] * 21 == pytest.approx([-2, 3, 6, 7, 6, 3, -2])
    assert slope_g_s(impulse, 2, 1.0)[18:23] * 10 == pytest.approx([2, 1, 0, -1, -2], abs=1e-12)


def test_the_slope_of_a_window_is_that_of_the_line_through_it() -> None:
    weight_g = wavy()
    line = stats.linregress(np.arange(11) * STEP_S, weight_g[200:211])
    assert slope_g_s(weight_g, 5, STEP_S)[205] == pytest.approx(line.slope, abs=1e-9)


@pytest.mark.parametrize(("half", "sd_g_s"), [(5, 0.0275), (10, 0.0104)])
def test_the_slopes_noise_is_that_of_least_squares(half: int, sd_g_s: float) -> None:
    """The textbook's sd = s / sqrt(sum (t - mean t)^2), for readings in steps of 0.1 g at 10 Hz."""
    assert slope_sd_g_s(ROUNDING_G, half, STEP_S) == pytest.approx(sd_g_s, abs=5e-5)
    noise = np.random.default_rng(1).normal(0.0, ROUNDING_G, 40_000)
    assert slope_g_s(noise, half, STEP_S).std() == pytest.approx(sd_g_s, rel=0.05)


@pytest.mark.parametrize("half", [4, 5, 8])
def test_the_noise_of_rounded_ramps_is_what_independent_rounding_would_make(half: int) -> None:
    """Sixty flows from 1 to 12 g/s in steps of 0.1 g: within 10 % of the bound, whatever the window."""
    off = []
    for flow_g_s in np.random.default_rng(2).uniform(1.0, 12.0, 60):
        shown_g = np.round(flow_g_s * np.arange(0.0, 60.0, STEP_S), 1)
        off.append(slope_g_s(shown_g, half, STEP_S)[half:-half] - flow_g_s)
    assert np.std(off) < 1.1 * slope_sd_g_s(ROUNDING_G, half, STEP_S)
    assert np.mean(off) == pytest.approx(0.0, abs=0.001)


def test_a_first_order_lag_is_taken_out_of_the_flow() -> None:
    """scipy.signal.lsim gives what a scale of 1 / (0.5 s + 1) shows of a flow that swells and falls."""
    time_s = np.arange(0.0, 60.0, STEP_S)
    on_pan_g_s = 5.0 + 3.0 * np.sin(time_s / 3.0)
    on_pan_g = 5.0 * time_s + 9.0 * (1.0 - np.cos(time_s / 3.0))
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [0.5, 1.0]), on_pan_g, time_s)
    inside = slice(50, -10)
    flow = flow_on_pan_g_s(shown_g, 3, STEP_S, 0.5)
    assert flow[inside] == pytest.approx(on_pan_g_s[inside], abs=0.02)
    assert np.abs(slope_g_s(shown_g, 3, STEP_S)[inside] - on_pan_g_s[inside]).max() > 0.4


def test_the_window_is_the_shortest_that_is_quiet_enough() -> None:
    assert half_for(0.001, STEP_S, 0.1, 0.4, 4.0) == 2
    half = half_for(0.1, STEP_S, 0.1, 0.4, 4.0)
    assert slope_sd_g_s(0.1, half, STEP_S) <= 0.1 < slope_sd_g_s(0.1, half - 1, STEP_S)
    assert half_for(100.0, STEP_S, 0.1, 0.4, 4.0) == 20


@pytest.mark.parametrize("count", [1, 2, 5])
def test_fewer_values_than_the_window_give_as_many_slopes(count: int) -> None:
    assert slope_g_s(np.arange(count, dtype=np.float64), 8, STEP_S).shape == (count,)

"""The step of a display, and the noise of a reading."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.curve.readings.noise import display_step_g, noise_g
from logger.curve.readings.timebase import samples_from

STEPS_G = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0]


@given(step_g=st.sampled_from(STEPS_G), seed=st.integers(0, 1000))
def test_the_step_of_a_display_is_found(step_g: float, seed: int) -> None:
    steps = np.random.default_rng(seed).integers(-2000, 2000, 400)
    assert display_step_g(steps * step_g) == step_g


def test_a_few_odd_values_do_not_hide_the_step() -> None:
    weight_g = np.arange(1000) * 0.1
    weight_g[::100] += 0.037
    assert display_step_g(weight_g) == pytest.approx(0.1)


def test_a_converters_raw_values_have_no_step() -> None:
    assert display_step_g(np.random.default_rng(0).normal(0.0, 50.0, 500)) == 0.0


@pytest.mark.parametrize("noise", [0.05, 0.2, 1.0])
def test_noise_is_measured_around_a_curve_with_a_pour_and_a_vessel_in_it(noise: float) -> None:
    time_s = np.arange(0.0, 120.0, 0.1)
    curve_g = 6.0 * np.clip(time_s - 40.0, 0.0, 30.0) + 500.0 * (time_s > 10.0)
    readings_g = np.round(curve_g + np.random.default_rng(1).normal(0.0, noise, time_s.size), 2)
    assert noise_g(samples_from(time_s, readings_g), 0.01) == pytest.approx(noise, rel=0.15)


@pytest.mark.parametrize("step_g", [0.1, 0.5, 1.0])
def test_it_is_never_less_than_rounding_makes(step_g: float) -> None:
    """The standard uncertainty of rounding, q / sqrt(12): JCGM 100:2008 (GUM) F.2.2.1."""
    still = samples_from(np.arange(100) / 10, np.full(100, 3 * step_g))
    assert noise_g(still, step_g) == pytest.approx(step_g / np.sqrt(12.0))
    few = samples_from(np.arange(4) / 10, np.zeros(4))
    assert noise_g(few, step_g) == pytest.approx(step_g / np.sqrt(12.0))

"""The first-order instrument against scipy and against the definition of a time constant."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from drivers.simulated.response import first_order

STEP_S = 0.002


def test_a_step_has_gone_63_percent_of_its_way_after_one_time_constant() -> None:
    """1 - 1/e, the definition of the time constant (textbook)."""
    time_s = np.arange(0, 5, STEP_S)
    followed = first_order(np.where(time_s >= 1.0, 100.0, 0.0), STEP_S, 0.5)
    assert np.interp(1.5, time_s, followed) == pytest.approx(100 * (1 - 1 / math.e), abs=0.15)
    assert np.interp(2.5, time_s, followed) == pytest.approx(100 * (1 - math.exp(-3)), abs=0.05)


@pytest.mark.parametrize("lag_s", [0.1, 0.45, 0.8, 5.0])
def test_it_follows_as_scipy_says(lag_s: float) -> None:
    """scipy.signal.lsim of 1 / (lag s + 1), linear between the points; lfilter agrees."""
    rng = np.random.default_rng(1)
    time_s = np.arange(0, 20, STEP_S)
    values = np.cumsum(rng.normal(0, 1, len(time_s))) + np.where(time_s > 7, 400.0, 0.0)
    values -= values[0]
    _, expected, _ = signal.lsim(signal.lti([1.0], [lag_s, 1.0]), values, time_s)
    assert first_order(values, STEP_S, lag_s) == pytest.approx(expected, abs=1e-7)


def test_twice_over_is_a_second_order_filter() -> None:
    """The step response of two equal lags is 1 - (1 + t/lag) exp(-t/lag): a textbook result."""
    time_s = np.arange(0, 6, STEP_S)
    pushed = np.ones_like(time_s)
    pushed[0] = 0.0
    followed = first_order(first_order(pushed, STEP_S, 0.4), STEP_S, 0.4)
    expected = 1 - (1 + time_s / 0.4) * np.exp(-time_s / 0.4)
    assert followed == pytest.approx(expected, abs=0.005)


@settings(deadline=None)
@given(
    value=st.floats(-1e4, 1e4),
    count=st.integers(1, 600),
    lag_s=st.floats(0, 10),
)
def test_what_rests_stays_as_it_is(value: float, count: int, lag_s: float) -> None:
    assert first_order(np.full(count, value), STEP_S, lag_s) == pytest.approx(np.full(count, value))

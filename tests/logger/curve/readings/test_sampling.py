"""When readings were taken: by the device's own clock, or by spreading bursts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.curve.readings.sampling import sampling_times


def late(rng: np.random.Generator, taken_s: np.ndarray) -> np.ndarray:
    """Arrivals: 20 ms at the least, often more, in order."""
    return np.maximum.accumulate(taken_s + 0.02 + rng.exponential(0.05, taken_s.size))


def test_a_devices_clock_is_moved_onto_the_hosts() -> None:
    rng = np.random.default_rng(1)
    taken_s = 5000.0 + np.arange(1200) * 0.1
    device_s = (taken_s - 4990.0) * (1 + 150e-6)
    found_s = sampling_times(late(rng, taken_s), device_s)
    assert np.abs(found_s - taken_s - 0.02).max() < 0.01


def test_a_clock_that_starts_again_is_matched_again() -> None:
    rng = np.random.default_rng(2)
    taken_s = 100.0 + np.arange(800) * 0.1
    device_s = np.where(taken_s < 140.0, taken_s - 60.0, taken_s - 140.0)
    found_s = sampling_times(late(rng, taken_s), device_s)
    assert np.abs(found_s - taken_s - 0.02).max() < 0.02


def test_without_a_clock_bursts_are_spread() -> None:
    taken_s = np.arange(300) * 0.1
    arrival_s = taken_s[(np.arange(300) // 4 + 1) * 4 - 1] + 0.03
    found_s = sampling_times(arrival_s)
    assert np.abs(found_s[4:] - taken_s[4:] - 0.03).max() < 1e-6


def test_a_clock_with_holes_is_not_used() -> None:
    arrival_s = np.arange(50) * 0.1
    device_s = np.where(np.arange(50) == 7, np.nan, arrival_s)
    assert sampling_times(arrival_s, device_s) == pytest.approx(arrival_s)


@given(
    st.lists(st.floats(0, 5), min_size=0, max_size=60),
    st.lists(st.floats(-1e6, 1e6), min_size=60, max_size=60),
)
def test_times_never_fall_and_are_never_later_than_their_arrival(
    steps: list[float], clock: list[float]
) -> None:
    arrival_s = np.cumsum(steps)
    for device_s in (None, np.array(clock[: arrival_s.size])):
        found_s = sampling_times(arrival_s, device_s)
        assert found_s.shape == arrival_s.shape
        assert np.isfinite(found_s).all()
        assert (found_s <= arrival_s + 1e-9).all()
        assert (np.diff(found_s) >= -1e-9).all()

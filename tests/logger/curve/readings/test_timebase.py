"""The times at which readings were taken, and the even grid."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from logger.curve.readings.timebase import grid_of, samples_from, unburst, usual_interval_s
from tests.benchmarks.curve_suite import Floats


def bursts(
    of: int, rate_hz: float = 10.0, count: int = 600, late_s: float = 0.0, seed: int = 0
) -> tuple[Floats, Floats]:
    """Give when readings were taken and when they arrived: together, with the last of each burst."""
    taken_s = np.arange(count) / rate_hz
    ends_s = taken_s[of - 1 :: of] + np.random.default_rng(seed).uniform(0.0, late_s, count // of)
    arrived_s = np.repeat(ends_s, of) - 0.002 * np.tile(np.arange(of)[::-1], count // of)
    return taken_s, np.maximum.accumulate(arrived_s)


@pytest.mark.parametrize("of", [2, 3, 4, 6])
@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0])
def test_bursts_are_spread_back_to_when_they_were_taken(of: int, rate_hz: float) -> None:
    taken_s, arrived_s = bursts(of, rate_hz)
    interval_s = usual_interval_s(arrived_s)
    assert interval_s == pytest.approx(1.0 / rate_hz, rel=0.01)
    assert unburst(arrived_s, interval_s) == pytest.approx(taken_s, abs=0.003)


def test_bursts_whose_delivery_wavers_come_out_nearly_right() -> None:
    """Each message waits up to 0.1 s for its turn, so a reading may be 0.1 s late, never early by more."""
    taken_s, arrived_s = bursts(4, late_s=0.1)
    off_s = unburst(arrived_s, usual_interval_s(arrived_s)) - taken_s
    assert off_s.min() > -0.08
    assert off_s.max() < 0.11
    assert np.std(off_s) < 0.04


def test_readings_of_the_very_same_time_are_a_burst() -> None:
    taken_s = np.arange(300) / 10
    arrived_s = np.repeat(taken_s[2::3], 3)
    assert unburst(arrived_s, usual_interval_s(arrived_s)) == pytest.approx(taken_s, abs=1e-6)


def test_a_burst_after_a_silence_is_not_spread_over_the_silence() -> None:
    taken_s, arrived_s = bursts(3)
    arrived_s[300:] += 20.0
    spread_s = unburst(arrived_s, usual_interval_s(arrived_s))
    assert spread_s[300:303] == pytest.approx(taken_s[300:303] + 20.0, abs=0.2)


@pytest.mark.parametrize("apart_s", [0.005, 0.03, 0.06])
@pytest.mark.parametrize("stall_s", [0.6, 1.5, 3.0])
def test_a_backlog_handed_over_reading_by_reading_is_spread_back(apart_s: float, stall_s: float) -> None:
    """A busy host reads nothing for a while and then all that was held up, faster than it was taken."""
    taken_s = np.arange(400) / 10
    arrived_s = np.maximum(taken_s, np.where((taken_s > 20) & (taken_s < 20 + stall_s), 20 + stall_s, 0.0))
    for at in range(1, arrived_s.size):
        arrived_s[at] = max(arrived_s[at], arrived_s[at - 1] + apart_s)
    assert unburst(arrived_s, usual_interval_s(arrived_s)) == pytest.approx(taken_s, abs=0.12)


def test_a_silence_after_which_readings_are_missing_is_no_backlog() -> None:
    taken_s = np.arange(400) / 10
    arrived_s = np.delete(taken_s, slice(200, 220))
    arrived_s[200] += 0.06
    assert unburst(arrived_s, usual_interval_s(arrived_s)) == pytest.approx(arrived_s, abs=1e-6)


def test_single_arrivals_stay_as_they_are() -> None:
    arrived_s = np.cumsum(np.random.default_rng(1).uniform(0.06, 0.14, 400))
    assert unburst(arrived_s, usual_interval_s(arrived_s)) == pytest.approx(arrived_s, abs=1e-6)


def test_drops_do_not_change_the_usual_interval() -> None:
    rng = np.random.default_rng(2)
    arrived_s = np.arange(2000) / 10
    kept = rng.random(2000) > 0.05
    assert usual_interval_s(arrived_s[kept]) == pytest.approx(0.1, rel=0.01)


@pytest.mark.parametrize(("times_s", "interval_s"), [([], 0.1), ([3.0], 0.1), ([3.0, 3.5], 0.5)])
def test_the_interval_of_next_to_nothing(times_s: list[float], interval_s: float) -> None:
    assert usual_interval_s(np.array(times_s)) == interval_s


def test_what_is_not_finite_is_left_out() -> None:
    samples = samples_from([0.0, 0.1, np.nan, 0.3, 0.4], [1.0, np.inf, 3.0, np.nan, 5.0])
    assert samples.weight_g.tolist() == [1.0, 5.0]
    assert samples.time_s == pytest.approx([0.0, 0.4])


def test_a_gap_is_a_second_or_five_readings() -> None:
    assert samples_from(np.arange(50) / 10, np.zeros(50)).gap_s == pytest.approx(1.0)
    assert samples_from(np.arange(50) * 0.5, np.zeros(50)).gap_s == pytest.approx(2.5)


@settings(max_examples=60, deadline=None)
@given(
    steps_s=st.lists(st.floats(0.02, 0.4), min_size=10, max_size=120),
    seed=st.integers(0, 2**32 - 1),
)
def test_the_grid_holds_the_curves_mean_over_each_step(steps_s: list[float], seed: int) -> None:
    """scipy.integrate.trapezoid of the straight lines between readings, cut at the grid's edges."""
    time_s = np.cumsum(steps_s)
    weight_g = np.random.default_rng(seed).normal(0.0, 100.0, time_s.size)
    samples = samples_from(time_s, weight_g)
    grid = grid_of(samples)
    for at in range(grid.time_s.size - 1):
        first_s, last_s = grid.time_s[at] - grid.step_s / 2, grid.time_s[at] + grid.step_s / 2
        inside = samples.time_s[(samples.time_s > first_s) & (samples.time_s < last_s)]
        corners_s = np.concatenate(([first_s], inside, [last_s]))
        area = integrate.trapezoid(np.interp(corners_s, samples.time_s, weight_g), corners_s)
        assert grid.weight_g[at] == pytest.approx(area / grid.step_s, abs=1e-6)


def test_the_grid_knows_where_nothing_was_heard() -> None:
    time_s = np.concatenate((np.arange(50) / 10, 8.0 + np.arange(50) / 10))
    grid = grid_of(samples_from(time_s, np.zeros(100)))
    assert grid.step_s == pytest.approx(0.1)
    silent_s = grid.time_s[grid.silent]
    assert (silent_s.min(), silent_s.max()) == pytest.approx((4.95, 7.95), abs=0.11)


def test_a_long_burst_with_pauses_of_some_milliseconds_in_it_is_one() -> None:
    """Forty readings a second, handed over every 0.4 to 1 s: some of a burst comes 10 ms after the rest."""
    rng = np.random.default_rng(5)
    taken_s = np.arange(2000) / 40.0
    handed_over_s = np.cumsum(rng.uniform(0.4, 1.0, 200))
    number = np.searchsorted(handed_over_s, taken_s)
    behind_s = np.where(rng.random(200) < 0.3, 0.01, 0.0)
    place = np.arange(taken_s.size) - np.searchsorted(number, number)
    arrival_s = np.sort(handed_over_s[number] + 1e-4 * place + behind_s[number] * (place > 3))
    found_s = samples_from(arrival_s, taken_s).time_s
    late_s = found_s - taken_s
    assert np.ptp(late_s[100:-100]) < 0.1

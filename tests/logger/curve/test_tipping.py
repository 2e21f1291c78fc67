"""How a hand tips a kettle, against the shapes that are said to look alike."""

import numpy as np
import pytest

from logger.curve.tipping import LOOSE_START, SOFT_END, SOFT_START, SOFTEST_S, end_s, first_water_s


def spread_of(flow: np.ndarray, time_s: np.ndarray) -> tuple[float, float]:
    """Middle and standard deviation of when a flow comes up."""
    gains = np.diff(flow) / (flow[-1] - flow[0])
    at_s = 0.5 * (time_s[1:] + time_s[:-1])
    middle_s = float(gains @ at_s)
    return middle_s, float(np.sqrt(gains @ (at_s - middle_s) ** 2))


def test_a_stream_that_breaks_loose_begins_later_than_the_ramp_that_has_its_middle_and_spread() -> None:
    """A straight ramp of length r spreads by r / sqrt(12) about its middle (any textbook)."""
    time_s = np.linspace(0.0, 20.0, 200_001)
    middle_s, spread_s = spread_of(-np.expm1(-time_s), time_s)
    ramp_s = np.sqrt(12.0) * spread_s
    assert (0.5 * ramp_s - middle_s) / ramp_s == pytest.approx(LOOSE_START, abs=0.015)


def test_an_even_start_lies_in_the_middle_of_what_it_may_be() -> None:
    begins_s = np.concatenate(first_water_s(np.array([10.0]), np.array([0.5])))
    assert np.median(begins_s) == 10.0
    assert begins_s.min() == pytest.approx(10.0 - 0.5 * SOFT_START)
    assert begins_s.max() == pytest.approx(10.0 + 0.5 * LOOSE_START)


def test_a_soft_end_is_later_and_no_hand_takes_longer_than_a_moment() -> None:
    straight_s, soft_s = end_s(np.array([10.0]), np.array([7.0]))
    assert (soft_s - straight_s).tolist() == pytest.approx([SOFT_END * SOFTEST_S])

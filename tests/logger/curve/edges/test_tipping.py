"""How a hand tips a kettle, against the shapes that are said to look alike."""

import numpy as np
import pytest

from logger.curve.edges.tipping import SOFT_END, SOFT_START, SOFTEST_S, THIN_SOFT_END, end_s, first_water_s


def test_an_even_start_is_the_median_of_what_it_may_be_and_a_soft_one_is_earlier() -> None:
    begins_s = np.concatenate(first_water_s(np.array([10.0]), np.array([0.5])))
    assert np.median(begins_s) == begins_s.max() == 10.0
    assert begins_s.min() == pytest.approx(10.0 - 0.5 * SOFT_START)


@pytest.mark.parametrize(("is_thin", "soft_end"), [(False, SOFT_END), (True, THIN_SOFT_END)])
def test_a_soft_end_is_later_and_no_hand_takes_longer_than_a_moment(is_thin: bool, soft_end: float) -> None:
    straight_s, soft_s = end_s(np.array([10.0]), np.array([7.0]), is_thin=is_thin)
    assert (soft_s - straight_s).tolist() == pytest.approx([soft_end * SOFTEST_S])


@pytest.mark.parametrize(("least_g_s", "soft_end"), [(0.4, SOFT_END), (0.1, 0.17)])
def test_how_much_later_a_soft_end_is_follows_from_the_flow_below_which_there_is_no_stream(
    least_g_s: float, soft_end: float
) -> None:
    """Half a cosine that lasts 1 s, at 6 g/s, and the straight ramp that fits what it brings best."""
    flow_g_s, over_s = 6.0, np.linspace(-1.5, 1.5, 3001)
    soft_g = np.cumsum(_half_cosine(over_s)) * 1e-3
    lengths_s = np.linspace(0.3, 1.2, 181)
    misfits = [np.ptp(soft_g - np.cumsum(_straight(over_s, each_s)) * 1e-3) for each_s in lengths_s]
    straight_s = float(lengths_s[np.argmin(misfits)])
    assert straight_s == pytest.approx(2.0 / np.pi, rel=0.15)
    soft_ends_s = over_s[flow_g_s * _half_cosine(over_s) >= least_g_s][-1]
    straight_ends_s = over_s[flow_g_s * _straight(over_s, 2.0 / np.pi) >= 0.1][-1]
    assert (soft_ends_s - straight_ends_s) * np.pi / 2.0 == pytest.approx(soft_end, abs=0.01)


def _half_cosine(since_s: np.ndarray) -> np.ndarray:
    """A stream that falls from 1 to 0 within a second, about 0."""
    return np.asarray(0.5 - 0.5 * np.sin(np.pi * np.clip(since_s, -0.5, 0.5)))


def _straight(since_s: np.ndarray, lasts_s: float) -> np.ndarray:
    return np.asarray(np.clip(0.5 - since_s / lasts_s, 0.0, 1.0))

"""How a hand tips a kettle, against the shapes that are said to look alike."""

import numpy as np
import pytest

from logger.curve.edges.tipping import SOFT_END, SOFT_START, SOFTEST_S, end_s, first_water_s


def test_an_even_start_is_the_median_of_what_it_may_be_and_a_soft_one_is_earlier() -> None:
    begins_s = np.concatenate(first_water_s(np.array([10.0]), np.array([0.5])))
    assert np.median(begins_s) == begins_s.max() == 10.0
    assert begins_s.min() == pytest.approx(10.0 - 0.5 * SOFT_START)


def test_a_soft_end_is_later_and_no_hand_takes_longer_than_a_moment() -> None:
    straight_s, soft_s = end_s(np.array([10.0]), np.array([7.0]))
    assert (soft_s - straight_s).tolist() == pytest.approx([SOFT_END * SOFTEST_S])

"""Coffee weighed before the first water, on its way to somewhere else or not."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import analyse
from tests.benchmarks.curve_suite import PLANS, THREE_POURS
from tests.logger.curve.staged import CALM, assert_pours, dosed, kinds, read, staged


def test_a_filter_holder_is_filled_here_and_taken_to_the_machine() -> None:
    """No tare between dose and lift; then a cup, which is tared."""
    time_s, weight_g, truth = staged(PLANS[1], replace(CALM, lead_s=(40.0, 40.0)))
    weight_g = dosed(time_s, weight_g, 8.0, [7.0, 6.0, 5.0])
    holder, cup = (time_s > 2.0) & (time_s < 16.0), time_s > 24.0
    weight_g += 520.0 * holder + 160.0 * cup - 18.0 * (time_s >= 16.0)
    weight_g -= 520.0 * (time_s > 5.0) - 360.0 * (time_s > 28.0)
    brew = analyse(time_s, weight_g, response_s=0.0)
    assert brew.method == "espresso"
    assert len(brew.pours) == len(truth.pours) == 1
    assert brew.pours[0].poured_g == pytest.approx(truth.pours[0].poured_g, abs=0.3)
    assert kinds(brew)[:4] == ["vessel-on", "tare", "dose", "vessel-off"]


def test_a_bloom_that_is_tared_is_water_where_the_coffee_was_tared_before() -> None:
    """The coffee was in the dripper that was put on the tared server; then a bloom of 45 g, and a tare."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(20.0, 20.0)))
    bloomed_s = truth.pours[0].end_s + 2.0
    weight_g += 300.0 * (time_s > 2.0) - 300.0 * (time_s > 5.0)
    # Coffee that comes so slowly that nothing is seen of it but the tare.
    weight_g += np.clip(time_s - 7.0, 0.0, 7.0) / 7.0 * 0.3 + 15.0 * (time_s > 9.0) - 15.3 * (time_s > 15.0)
    weight_g -= truth.pours[0].poured_g * (time_s > bloomed_s)
    brew = read(time_s, weight_g)
    assert_pours(brew, truth, grams=0.1)


def test_a_lift_after_the_bloom_leaves_the_bloom_in_the_brew() -> None:
    """The dripper is lifted, swirled and put back: the same comes back."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(10.0, 10.0)))
    lifted_s = truth.pours[0].end_s + 4.0
    weight_g -= 230.0 * ((time_s > lifted_s) & (time_s < lifted_s + 5.0))
    brew = read(time_s, weight_g)
    assert_pours(brew, truth)

"""A spoon or a lid that is laid down a second or two after a pour, on a scale that still follows that."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import analyse
from tests.benchmarks.curve_suite import THREE_POURS, Floats
from tests.logger.curve.pours.test_pulled import late
from tests.logger.curve.staged import CALM, assert_pours, staged

SERVER_G = 300.0


def laid_down(lag_s: float, weighs_g: float, after_s: float, lies_s: float) -> tuple[Floats, Floats]:
    """Lay something down after the second of three pours, within a fifth of a second."""
    time_s, weight_g, truth = staged(THREE_POURS, replace(CALM, lead_s=(10.0, 10.0)))
    laid_s = truth.pours[1].end_s + after_s
    lies = np.clip((time_s - laid_s) / 0.2, 0.0, 1.0) * (time_s < laid_s + lies_s)
    shown_g = late(time_s, weight_g + SERVER_G * (time_s > 2.0) + weighs_g * lies, lag_s)
    return time_s, np.round(shown_g - SERVER_G * (time_s > 8.0), 1)


@pytest.mark.parametrize("lag_s", [0.3, 0.5, 0.7])
@pytest.mark.parametrize(("weighs_g", "lies_s"), [(15.0, 4.0), (25.0, 4.0), (33.0, 500.0)])
def test_what_is_laid_down_after_a_pour_is_none_of_its_water(
    lag_s: float, weighs_g: float, lies_s: float
) -> None:
    """Whether it is taken off again, as a spoon, or stays, as a lid."""
    truth = staged(THREE_POURS, replace(CALM, lead_s=(10.0, 10.0)))[2]
    brew = analyse(*laid_down(lag_s, weighs_g, 1.4, lies_s))
    assert_pours(brew, truth, start_s=0.15, end_s=0.5, grams=0.3)
    assert brew.pours[1].end_s == pytest.approx(truth.pours[1].end_s, abs=0.25)
    [on] = [event for event in brew.events if event.kind == "vessel-on" and event.start_s > 10.0]
    assert on.change_g == pytest.approx(weighs_g, abs=2.0)


@pytest.mark.parametrize("lag_s", [0.3, 0.7])
def test_a_stream_that_runs_faster_at_its_end_is_one_pour(lag_s: float) -> None:
    """A kettle that wavers and then is tipped for the last 15 g: nothing of it comes within a moment."""
    time_s = np.arange(0.0, 60.0, 0.1)
    flow_g_s = np.interp(time_s, [20.0, 20.4, 27.0, 27.3, 28.0, 28.3, 29.8, 30.1], [0, 5, 5, 3, 3, 9, 9, 0])
    on_pan_g = np.cumsum(flow_g_s) * 0.1 + SERVER_G * (time_s > 2.0)
    shown_g = late(time_s, on_pan_g, lag_s) - SERVER_G * (time_s > 8.0)
    brew = analyse(time_s, np.round(shown_g, 1))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([np.sum(flow_g_s) * 0.1], abs=0.5)


def test_a_reading_in_minutes_shows_nothing_of_a_moment() -> None:
    flows_g = np.repeat([0.0, 900.0, 80.0, 900.0, 80.0, 0.0], [6, 2, 6, 2, 6, 5])
    assert analyse(600.0 * np.arange(flows_g.size), np.cumsum(flows_g)) is not None

"""A cup pulled away while it runs: how much was in it, and when it left."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import analyse
from tests.benchmarks.curve_suite import PLANS, Floats
from tests.logger.curve.staged import CALM, staged

ESPRESSO = PLANS[1]
CUP_G = 180.0


def late(time_s: Floats, weight_g: Floats, lag_s: float) -> Floats:
    """What a scale of first order shows, its readings evenly spaced."""
    kept = float(np.exp(-(time_s[1] - time_s[0]) / lag_s))
    shown_g = weight_g.copy()
    for at in range(1, shown_g.size):
        shown_g[at] = kept * shown_g[at - 1] + (1.0 - kept) * weight_g[at]
    return shown_g


@pytest.mark.parametrize("lag_s", [0.2, 0.45, 0.7])
@pytest.mark.parametrize("seed", range(3))
def test_a_cup_is_pulled_away_while_it_runs(lag_s: float, seed: int) -> None:
    """Four seconds before the pump would have stopped; the cup was put on and tared before the shot."""
    time_s, weight_g, truth = staged(ESPRESSO, replace(CALM, lead_s=(15.0, 15.0)), seed)
    pulled_s = truth.pours[0].end_s - 4.0
    in_cup_g = float(np.interp(pulled_s, truth.time_s, truth.weight_g))
    on_pan_g = np.where(time_s < pulled_s, weight_g, 0.0) + CUP_G * ((time_s > 3.0) & (time_s < pulled_s))
    shown_g = late(time_s, on_pan_g, lag_s) - CUP_G * (time_s > 9.0)
    brew = analyse(time_s, np.round(shown_g, 1))
    [pour] = brew.pours
    assert pour.end_s == pytest.approx(pulled_s, abs=0.2)
    assert pour.poured_g == pytest.approx(in_cup_g, abs=0.5)
    assert pour.poured_between_g is not None
    assert pour.poured_between_g[0] < in_cup_g < pour.poured_between_g[1]


def test_a_cup_that_is_taken_when_it_has_stopped_is_not_pulled() -> None:
    time_s, weight_g, truth = staged(ESPRESSO, replace(CALM, lead_s=(15.0, 15.0)))
    [true] = truth.pours
    taken_s = true.end_s + 1.5
    on_pan_g = np.where(time_s < taken_s, weight_g, 0.0) + CUP_G * ((time_s > 3.0) & (time_s < taken_s))
    brew = analyse(time_s, np.round(late(time_s, on_pan_g, 0.3) - CUP_G * (time_s > 9.0), 1))
    [pour] = brew.pours
    assert pour.end_s == pytest.approx(true.end_s, abs=0.6)
    assert pour.poured_g == pytest.approx(true.poured_g, abs=0.3)

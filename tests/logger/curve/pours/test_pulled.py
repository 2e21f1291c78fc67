"""A cup pulled away while it runs: how much was in it, and when it left."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import LiveAnalysis, analyse
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


def pulled(lag_s: float, seed: int = 1, every: int = 1) -> tuple[Floats, Floats, float, float]:
    """Pull the cup four seconds before the pump would have stopped; it was put on and tared before the shot.

    :param every: only each of so many readings of ten a second was sent
    :returns: what the scale sent, when the cup was pulled, and what was in it
    """
    time_s, weight_g, truth = staged(ESPRESSO, replace(CALM, lead_s=(15.0, 15.0)), seed)
    pulled_s = truth.pours[0].end_s - 4.0
    in_cup_g = float(np.interp(pulled_s, truth.time_s, truth.weight_g))
    on_pan_g = np.where(time_s < pulled_s, weight_g, 0.0) + CUP_G * ((time_s > 3.0) & (time_s < pulled_s))
    shown_g = late(time_s, on_pan_g, lag_s) - CUP_G * (time_s > 9.0)
    return time_s[::every], np.round(shown_g, 1)[::every], pulled_s, in_cup_g


@pytest.mark.parametrize(("lag_s", "every"), [(0.05, 1), (0.2, 1), (0.45, 1), (0.7, 1), (0.45, 2), (0.7, 3)])
@pytest.mark.parametrize("seed", range(3))
def test_a_cup_is_pulled_away_while_it_runs(lag_s: float, every: int, seed: int) -> None:
    """What the display still owed is added: the slower the scale, the more that is."""
    time_s, shown_g, pulled_s, in_cup_g = pulled(lag_s, seed, every)
    brew = analyse(time_s, shown_g)
    [pour] = brew.pours
    assert pour.end_s == pytest.approx(pulled_s, abs=0.1 + 0.1 * every)
    assert pour.poured_g == pytest.approx(in_cup_g, abs=0.4)
    assert pour.poured_between_g is not None
    assert pour.poured_between_g[0] < in_cup_g < pour.poured_between_g[1]
    assert [event.kind for event in brew.events] == ["vessel-on", "tare", "vessel-off"]


@pytest.mark.parametrize("lag_s", [0.05, 0.45, 0.7])
def test_a_cup_that_is_pulled_away_is_told_at_once(lag_s: float) -> None:
    """Nothing more will be seen of its end; the lift itself is told when the display has come to rest."""
    time_s, shown_g, pulled_s, in_cup_g = pulled(lag_s)
    live = LiveAnalysis()
    for now_s, weight in zip(time_s, shown_g, strict=True):
        live.push(float(now_s), float(weight))
        if now_s > pulled_s + 1.0 and not live.pouring:
            break
    assert now_s < pulled_s + 1.2
    [pour] = live.pours
    assert pour.end_s == pytest.approx(pulled_s, abs=0.2)
    assert pour.poured_g == pytest.approx(in_cup_g, abs=0.4)
    for later_s, weight in zip(time_s[time_s > now_s], shown_g[time_s > now_s], strict=True):
        live.push(float(later_s), float(weight))
    assert len(live.pours) == 1
    assert [event.kind for event in live.events] == ["vessel-on", "tare", "vessel-off"]


def test_a_cup_that_is_taken_when_it_has_stopped_is_not_pulled() -> None:
    time_s, weight_g, truth = staged(ESPRESSO, replace(CALM, lead_s=(15.0, 15.0)))
    [true] = truth.pours
    taken_s = true.end_s + 1.5
    on_pan_g = np.where(time_s < taken_s, weight_g, 0.0) + CUP_G * ((time_s > 3.0) & (time_s < taken_s))
    brew = analyse(time_s, np.round(late(time_s, on_pan_g, 0.3) - CUP_G * (time_s > 9.0), 1))
    [pour] = brew.pours
    assert pour.end_s == pytest.approx(true.end_s, abs=0.6)
    assert pour.poured_g == pytest.approx(true.poured_g, abs=0.3)

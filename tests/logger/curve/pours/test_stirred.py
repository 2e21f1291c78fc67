"""A pour that is stirred at once ends where the stirring begins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.curve import analyse
from logger.curve.brew import Event
from logger.curve.edges.choice import Known
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response
from logger.curve.pours.finding import Rise
from logger.curve.pours.stirred import FROM_S, TAKES_UP_S, UNTIL_S, stirred_end
from logger.curve.pours.water_curve import Curve
from tests.benchmarks.curve_suite import THREE_POURS, Floats
from tests.logger.curve.staged import CALM, staged

STIR = Event("stir", 20.0, 26.0, 0.0)
LAG_S = 0.3


def an_end(time_s: float, level_g: float = 250.0) -> Known:
    return Known(time_s, time_s - 0.4, time_s + 0.4, level_g, 0.05)


def a_pour_of_6_g_s(until_s: float) -> tuple[Curve, Rise]:
    """Ten seconds from 190 g on, on a scale that lags by 0.3 s, with its stirring taken out."""
    time_s = np.arange(0.0, 40.0, 0.1)
    weight_g = 190.0 + 6.0 * np.clip(time_s - until_s + 10.0, 0.0, 10.0)
    drawn = np.zeros(time_s.size, dtype=bool)
    curve = Curve(time_s, weight_g, drawn, time_s, weight_g, 0.1, 0.05, Response(0.3))
    start, end = Edge(until_s - 10.0, 190.0, 6.0, 0.1, 0.0), Edge(until_s, 250.0, 6.0, 0.1, 0.0)
    return curve, Rise(start, end, 6.0, ((start.time_s, 0.0), (end.time_s, 0.0)))


def test_an_end_in_stirring_is_where_that_begins_and_may_be_where_it_was_read() -> None:
    pour = a_pour_of_6_g_s(21.4)
    end = stirred_end(*pour, an_end(21.4), (STIR,))
    assert end.time_s == 20.0 + FROM_S
    assert end.low_s == 20.0 - TAKES_UP_S
    assert end.high_s == pytest.approx(21.8)
    assert end.level_g == 250.0
    assert stirred_end(*pour, end, (STIR,)) == end


@pytest.mark.parametrize("time_s", [19.9, 20.0 + FROM_S, 20.1 + UNTIL_S, 26.2])
def test_an_end_before_stirring_after_it_or_long_after_it_began_stays(time_s: float) -> None:
    assert stirred_end(*a_pour_of_6_g_s(time_s), an_end(time_s), (STIR,)) == an_end(time_s)


@pytest.mark.parametrize("time_s", [23.4, 26.8])
def test_an_end_long_after_stirring_began_is_none_where_hardly_any_water_came_since(time_s: float) -> None:
    """What is drawn through the stirring rises by what the display owed: that is no stream of seconds."""
    curve, rise = a_pour_of_6_g_s(20.0)
    slow = replace(rise, end=replace(rise.end, time_s=time_s, level_g=252.0))
    assert stirred_end(curve, slow, an_end(time_s, 252.0), (STIR,)).time_s == 20.0 + FROM_S


def test_a_stream_that_was_seen_to_stop_before_stirring_did_not_run_on_into_it() -> None:
    """A spoon that is let go in the bed weighs on the pan from then on, and no stream does."""
    curve, rise = a_pour_of_6_g_s(18.6)
    late = replace(rise, end=replace(rise.end, time_s=26.0, level_g=270.0))
    assert stirred_end(curve, late, an_end(26.0, 270.0), (STIR,)).time_s == 20.0


def test_a_hand_that_leans_on_the_brewer_hides_the_end_from_when_it_came() -> None:
    """Its swings are found later than the first of what it did: that was drawn through by then."""
    curve, rise = a_pour_of_6_g_s(18.5)
    replaced = (curve.time_s > 18.0) & (curve.time_s < 32.0)
    weight_g = np.interp(curve.time_s, curve.time_s[~replaced], curve.weight_g[~replaced])
    hidden = Curve(curve.time_s, weight_g, replaced, curve.time_s, weight_g, 0.1, 0.05, Response(0.3))
    late = replace(rise, end=replace(rise.end, time_s=31.0))
    press = Event("press", 20.0, 32.0, 0.0)
    assert stirred_end(hidden, late, an_end(31.0), (press,)).time_s == pytest.approx(18.0 + FROM_S, abs=0.1)


def stirred(time_s: Floats, from_s: float, swing_g: float) -> Floats:
    """Four seconds to and fro, as a scale that lags by ``LAG_S`` shows it."""
    since_s = np.clip(time_s - from_s, 0.0, 4.0)
    pushed_g = swing_g * np.sin(2.0 * np.pi * 1.3 * since_s) * np.sin(np.pi * since_s / 4.0) ** 0.5
    kept = np.exp(-np.median(np.diff(time_s)) / LAG_S)
    return np.asarray(lfilter([1.0 - kept], [1.0, -kept], pushed_g))


def read(after_s: float, swing_g: float) -> tuple[Floats, Floats]:
    """How late the ends are read, of twelve pours that are stirred so soon; and whether their ranges hold."""
    errors_s, holds = [], []
    for seed in range(4):
        conditions = replace(CALM, lag_s=(LAG_S, LAG_S), noise_g=(0.05, 0.05))
        time_s, weight_g, truth = staged(THREE_POURS, conditions, seed)
        for true in truth.pours:
            weight_g = weight_g + stirred(time_s, true.end_s + after_s, swing_g)
        found = analyse(time_s, weight_g, response_s=LAG_S)
        for pour, true in zip(found.pours, truth.pours, strict=True):
            assert pour.end_between_s is not None
            errors_s.append(pour.end_s - true.end_s)
            holds.append(pour.end_between_s[0] <= true.end_s <= pour.end_between_s[1])
    return np.array(errors_s), np.array(holds, dtype=float)


@pytest.mark.parametrize("after_s", [0.15, 0.5])
def test_whoever_stirs_at_once_has_stopped_pouring(after_s: float) -> None:
    """Read within the stirring, these ends were 0.3 s late."""
    errors_s, holds = read(after_s, 8.0)
    assert np.abs(np.median(errors_s)) < 0.15
    assert np.max(np.abs(errors_s)) < 0.25
    assert np.mean(holds) >= 0.85


@pytest.mark.parametrize("after_s", [0.15, 0.5])
@pytest.mark.parametrize("swing_g", [12.0, 18.0])
def test_a_pour_does_not_end_as_hard_stirring_ends(after_s: float, swing_g: float) -> None:
    """What is drawn through such swings rises by what the display owed: ends were 3 to 5 s late."""
    errors_s, holds = read(after_s, swing_g)
    assert np.max(np.abs(errors_s)) < 0.6
    assert np.mean(holds) >= 0.85

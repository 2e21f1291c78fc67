"""Where a flow may have stopped: what is shallower than any pause is not measured."""

import numpy as np
import pytest
from scipy import signal

from logger.curve.edges.shapes import Response
from logger.curve.pours.dips import DIP_SHARE, shortest_pause_falls_to
from logger.curve.pours.flow import slope_g_s
from logger.curve.pours.lulls import find_lulls
from logger.curve.pours.water_curve import Curve
from tests.benchmarks.curve_suite import Floats

FINE_S, STEP_S = np.arange(0.0, 20.0, 0.01), 0.1


def shown(flow_g_s: Floats, lag_s: float, order: int = 1) -> Floats:
    """What a scale shows of a flow (scipy.signal.lsim), at 10 Hz."""
    weight_g = np.cumsum(flow_g_s) * 0.01
    for _ in range(order):
        _, weight_g, _ = signal.lsim(signal.lti([1.0], [lag_s, 1.0]), weight_g, FINE_S)
    return np.asarray(weight_g[::10])


def curve_of(flow_g_s: Floats, lag_s: float, drawn_s: tuple[float, float] = (0.0, 0.0)) -> Curve:
    time_s = FINE_S[::10]
    weight_g = shown(flow_g_s, lag_s) + np.random.default_rng(1).normal(0.0, 0.02, time_s.size)
    drawn = (time_s > drawn_s[0]) & (time_s < drawn_s[1])
    return Curve(time_s, weight_g, drawn, time_s, weight_g, STEP_S, 0.02, Response(lag_s))


def falling_to(between_g_s: float, lasts_s: float, flow_g_s: float = 6.0) -> Floats:
    return np.where(np.abs(FINE_S - 10.0) < lasts_s / 2, between_g_s, flow_g_s)


def deep(curve: Curve) -> list[int]:
    return find_lulls(curve, 20, 180).deep(curve)


@pytest.mark.parametrize(("lag_s", "order"), [(0.1, 1), (0.3, 1), (0.8, 1), (0.4, 2)])
@pytest.mark.parametrize("half", [2, 5, 12])
def test_the_shortest_pause_is_shown_as_shallow_as_that(half: int, lag_s: float, order: int) -> None:
    ramps = np.interp(FINE_S, [9.0, 9.45, 10.05, 10.5], [0.0, 1.0, 1.0, 0.0])
    flow = 1.0 - (1.0 - DIP_SHARE) * ramps
    lowest = slope_g_s(shown(flow, lag_s, order), half, STEP_S)[50:150].min()
    assert shortest_pause_falls_to(half, STEP_S, Response(lag_s, order)) == pytest.approx(lowest, abs=0.02)


@pytest.mark.parametrize("lag_s", [0.1, 0.3, 0.6, 0.9])
@pytest.mark.parametrize("lasts_s", [0.9, 1.5, 3.0])
def test_a_flow_that_stops_is_measured_however_slow_the_scale(lasts_s: float, lag_s: float) -> None:
    curve = curve_of(falling_to(0.0, lasts_s), lag_s)
    assert [float(curve.grid_s[place]) for place in deep(curve)] == pytest.approx([10.0 + lag_s], abs=0.6)


@pytest.mark.parametrize("lag_s", [0.1, 0.3, 0.6])
def test_a_flow_that_weakens_to_two_thirds_is_a_lull_and_no_pause(lag_s: float) -> None:
    curve = curve_of(falling_to(3.9, 2.0), lag_s)
    assert find_lulls(curve, 20, 180).places.size
    assert not deep(curve)


def test_of_what_was_drawn_nobody_knows_how_deep_it_was() -> None:
    assert deep(curve_of(falling_to(3.9, 2.0), 0.1, drawn_s=(11.0, 12.0)))


def test_a_lull_beside_a_pause_is_measured_with_it() -> None:
    flow = np.where(np.abs(FINE_S - 7.8) < 0.5, 3.6, falling_to(0.0, 1.5))
    assert len(deep(curve_of(flow, 0.1))) == 2

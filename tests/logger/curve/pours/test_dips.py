"""One pour or two: the flow in a dip, measured through the scale's lag."""

import numpy as np
import pytest
from scipy import signal

from logger.curve.edges.shapes import Response
from logger.curve.pours.dips import Dip, measure_dips
from tests.benchmarks.curve_suite import Floats

FINE_S = np.arange(0.0, 20.0, 0.01)


def measured(flow_g_s: Floats, lag_s: float, noise_g: float = 0.05, seed: int = 0) -> Dip | None:
    """Show a flow on a scale (scipy.signal.lsim) at 10 Hz, and measure the dip near 10 s."""
    on_pan_g = np.cumsum(flow_g_s) * 0.01
    _, shown_g, _ = signal.lsim(signal.lti([1.0], [lag_s, 1.0]), on_pan_g, FINE_S)
    time_s = FINE_S[::10]
    weight_g = shown_g[::10] + np.random.default_rng(seed).normal(0.0, noise_g, time_s.size)
    return measure_dips(time_s, weight_g, [10.0 + lag_s], (2.0, 18.0), Response(lag_s), noise_g)[0]


def dipped(between_g_s: float, pause_s: float, flow_g_s: float = 6.0) -> Floats:
    within = np.abs(FINE_S - 10.0) < pause_s / 2
    flow = np.where(within, between_g_s, flow_g_s)
    return np.convolve(np.pad(flow, 20, mode="edge"), np.ones(41) / 41, mode="valid")


@pytest.mark.parametrize("lag_s", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("pause_s", [1.5, 2.0, 3.0])
def test_a_flow_that_stops_has_paused_though_the_lag_fills_the_dip(pause_s: float, lag_s: float) -> None:
    dip = measured(dipped(0.0, pause_s), lag_s)
    assert dip is not None
    assert dip.is_pause
    assert dip.share < 0.2
    assert (dip.before_g_s, dip.after_g_s) == pytest.approx((6.0, 6.0), abs=0.5)
    assert 0.5 * (dip.falls_s + dip.rises_s) == pytest.approx(10.0, abs=0.3)


@pytest.mark.parametrize("lag_s", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("share", [0.45, 0.6, 0.8])
def test_a_flow_that_weakens_has_not(share: float, lag_s: float) -> None:
    dip = measured(dipped(6.0 * share, 2.0), lag_s)
    assert dip is not None
    assert not dip.is_pause
    assert dip.between_g_s == pytest.approx(6.0 * share, abs=0.6)


def test_a_steady_flow_has_no_evidence_of_a_dip() -> None:
    for seed in range(5):
        dip = measured(np.full(FINE_S.size, 6.0), 0.3, seed=seed)
        assert dip is None or not dip.is_pause


def test_what_was_not_seen_is_no_pause() -> None:
    """No reading within the pause: nobody knows what happened in it."""
    time_s = FINE_S[::10]
    weight_g = np.cumsum(dipped(0.0, 2.0))[::10] * 0.01
    seen = np.abs(time_s - 10.0) > 1.4
    (dip,) = measure_dips(time_s[seen], weight_g[seen], [10.0], (2.0, 18.0), Response(0.05), 0.05)
    assert dip is None or not (9.0 < dip.falls_s < dip.rises_s < 11.0)


def test_too_few_readings_say_nothing() -> None:
    assert measure_dips(np.arange(5.0), np.arange(5.0), [2.0], (0.0, 4.0), Response(0.3), 0.05) == [None]

"""The closed answers of a scale against scipy's simulation of it, and edges that are found again."""

import numpy as np
import pytest
from scipy import signal

from logger.curve.edges import fit_edge
from logger.curve.shapes import FALL_S, Response, end_shape, pressed, shown_square, start_shape
from tests.benchmarks.curve_suite import Floats

TIME_S = np.linspace(0.0, 12.0, 6_001)
RESPONSES = [Response(stage_s, order) for stage_s in (0.12, 0.35, 0.8) for order in (1, 2)]
BEGIN_S, RAMP_S = 2.0, 0.8


def shown(on_pan_g: Floats, response: Response) -> Floats:
    """What scipy says that a scale of 1 / (T s + 1)^m shows."""
    below = np.polynomial.polynomial.polypow([1.0, response.stage_s], response.order)[::-1]
    _, answer, _ = signal.lsim(signal.TransferFunction([1.0], below), on_pan_g, TIME_S)
    return answer


def ramped_flow() -> Floats:
    return np.clip((TIME_S - BEGIN_S) / RAMP_S, 0.0, 1.0)


def integral(values: Floats) -> Floats:
    return np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(TIME_S))))


def shown_force(since_s: Floats, response: Response) -> Floats:
    """What is shown of a force that ramps from 0 to 1, out of what a stream's pressure adds."""

    def rising(u: Floats) -> Floats:
        return (pressed(u, response) - shown_square(u, response)) / FALL_S

    return (rising(since_s) - rising(since_s - RAMP_S)) / RAMP_S


@pytest.mark.parametrize("response", RESPONSES, ids=str)
def test_the_answer_to_a_growing_flow_is_scipys(response: Response) -> None:
    since_s = TIME_S - BEGIN_S
    on_pan_g = 0.5 * np.maximum(since_s, 0.0) ** 2
    assert shown_square(since_s, response) == pytest.approx(shown(on_pan_g, response), abs=1e-5)


@pytest.mark.parametrize("response", RESPONSES, ids=str)
def test_the_answer_to_a_force_that_ramps_is_scipys(response: Response) -> None:
    expected = shown(ramped_flow(), response)
    assert shown_force(TIME_S - BEGIN_S, response) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("response", [*RESPONSES, Response(0.0)], ids=str)
def test_a_start_is_water_and_the_press_of_the_stream_both_seen_through_the_lag(response: Response) -> None:
    on_pan_g = integral(ramped_flow()) + FALL_S * ramped_flow()
    expected = on_pan_g if response.stage_s == 0.0 else shown(on_pan_g, response)
    assert start_shape(TIME_S - BEGIN_S, np.array(RAMP_S), response) == pytest.approx(expected, abs=2e-5)


@pytest.mark.parametrize("response", RESPONSES, ids=str)
def test_an_end_is_what_is_still_missing(response: Response) -> None:
    """A steady stream of 1 g/s, settled, that stops within 0.8 s; its last water lands at 8 s."""
    end_s = 8.0
    flow = np.clip((end_s - TIME_S) / RAMP_S, 0.0, 1.0)
    water_g = integral(flow)
    missing_g = water_g[-1] - shown(water_g + FALL_S * flow, response)
    settled = TIME_S > 6.5
    shape = end_shape(TIME_S - end_s, np.array(RAMP_S), response)
    assert shape[settled] == pytest.approx(-missing_g[settled], abs=5e-3)


def test_a_steady_stream_is_shown_late_by_the_delay() -> None:
    for response in RESPONSES:
        assert shown_force(np.array(100.0), response) == pytest.approx(1.0)
        late_g = 0.5 * 100.0**2 - shown_square(np.array(100.0), response)
        assert late_g == pytest.approx(
            100.0 * response.delay_s - response.stage_s**2 * (response.order * (response.order + 1) / 2),
            abs=1e-6,
        )


@pytest.mark.parametrize("response", [Response(0.0), Response(0.3), Response(0.25, 2)], ids=str)
@pytest.mark.parametrize("is_start", [True, False], ids=["start", "end"])
def test_an_edge_is_found_again_through_noise(response: Response, is_start: bool) -> None:
    """0.05 g of noise at 10 Hz, 6 g/s: half of the edges within 0.01 s, the others within 0.15 s.

    Those are the ones whose ramp is taken for the next shorter one. Measured: 0.004 s, 0.125 s.
    """
    time_s = np.arange(0.0, 8.0, 0.1)
    shape = start_shape if is_start else end_shape
    off_s = []
    for seed in range(20):
        noise_g = np.random.default_rng(seed).normal(0.0, 0.05, time_s.size)
        display_g = 31.0 + 6.0 * shape(time_s - 4.03, np.array(0.4), response) + noise_g
        edge = fit_edge(time_s, display_g, np.arange(2.0, 6.0, 0.05), response, is_start=is_start)
        off_s.append(edge.time_s - 4.03)
        assert edge.flow_g_s == pytest.approx(6.0, abs=0.03)
        assert edge.level_g == pytest.approx(31.0, abs=0.03)
        # Two neighbours are taken as one, so that half of the noise's variance is left, and what the next
        # ramp that was tried leaves.
        assert edge.misfit_g2 == pytest.approx(0.5 * 0.05**2, rel=0.7)
    assert np.median(np.abs(off_s)) < 0.01
    assert np.abs(off_s).max() < 0.15


def test_a_flat_curve_has_no_edge_to_speak_of() -> None:
    time_s = np.arange(0.0, 8.0, 0.1)
    edge = fit_edge(time_s, np.full(80, 5.0), np.arange(2.0, 6.0, 0.05), Response(0.3), is_start=True)
    assert edge.flow_g_s == 0.0
    assert edge.level_g == pytest.approx(5.0)


@pytest.mark.parametrize("before_s", [1e-3, 2e-3, 5e-3])
def test_an_end_is_never_explained_by_one_sample_and_a_flow_that_nothing_has(before_s: float) -> None:
    """A shape that ends just after the first sample touches that one alone, and could explain it wholly."""
    time_s = 55.6035 + 0.1 * np.arange(55)
    response = Response(0.1)
    weight_g = np.round(180.0 + 10.0 * np.clip(time_s - 54.14, 0.0, 3.0), 1)
    candidates_s = np.arange(time_s[0] + before_s - 0.55, 59.075, 0.05)
    edge = fit_edge(time_s, weight_g, candidates_s, response, is_start=False)
    assert edge.time_s == pytest.approx(57.2, abs=0.1)
    assert edge.flow_g_s == pytest.approx(10.0, abs=0.1)

"""The closed answers of a scale against scipy's simulation of it."""

import numpy as np
import pytest
from scipy import signal

from logger.curve.edges.shapes import (
    FALL_S,
    Response,
    end_shape,
    fade_shape,
    left_of_lag,
    pressed,
    settled_square,
    shown_and_pressed,
    shown_square,
    start_shape,
)
from tests.benchmarks.curve_suite import Floats

TIME_S = np.linspace(0.0, 12.0, 6_001)
RESPONSES = [Response(stage_s, order) for stage_s in (0.12, 0.35, 0.8) for order in (1, 2)]
BEGIN_S, RAMP_S = 2.0, 0.8


def shown(on_pan_g: Floats, response: Response, time_s: Floats = TIME_S) -> Floats:
    """What scipy says that a scale of 1 / (T s + 1)^m shows."""
    below = np.polynomial.polynomial.polypow([1.0, response.stage_s], response.order)[::-1]
    _, answer, _ = signal.lsim(signal.TransferFunction([1.0], below), on_pan_g, time_s)
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


@pytest.mark.parametrize("response", RESPONSES, ids=str)
def test_a_flow_that_has_always_grown_is_scipys_once_that_has_settled(response: Response) -> None:
    """``u^2 / 2`` from 30 s before its lowest on: what the beginning left has faded by 5 s before it."""
    time_s = np.linspace(0.0, 40.0, 20_001)
    since_s = time_s - 30.0
    expected = shown(0.5 * since_s**2, response, time_s)
    assert settled_square(since_s, response)[since_s > -5.0] == pytest.approx(
        expected[since_s > -5.0], abs=2e-5
    )


@pytest.mark.parametrize("response", RESPONSES, ids=str)
def test_long_after_it_began_a_growing_flow_is_one_that_always_grew(response: Response) -> None:
    since_s = np.array([30.0, 60.0])
    assert shown_square(since_s, response) == pytest.approx(settled_square(since_s, response), abs=1e-9)


def fading_pan_g(fade_s: float) -> Floats:
    """What a flow 1 that fades from ``BEGIN_S`` on has brought, and what it presses."""
    since_s = TIME_S - BEGIN_S
    flow = np.where(since_s > 0.0, np.exp(-np.maximum(since_s, 0.0) / fade_s), 0.0)
    return fade_s * -np.expm1(-np.maximum(since_s, 0.0) / fade_s) + FALL_S * flow


@pytest.mark.parametrize("fade_s", [0.2, 0.6, 2.4])
@pytest.mark.parametrize("response", [*RESPONSES, Response(0.0)], ids=str)
def test_what_is_missing_of_a_fading_flow_is_scipys(fade_s: float, response: Response) -> None:
    on_pan_g = fading_pan_g(fade_s)
    expected = on_pan_g if response.stage_s == 0.0 else shown(on_pan_g, response)
    # The press of the stream begins between two of scipy's times.
    assert fade_shape(TIME_S - BEGIN_S, fade_s, response) == pytest.approx(fade_s - expected, abs=1e-3)


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("beside", [0.975, 1.0, 1.025])
def test_a_fade_as_slow_as_the_scale_is_answered_from_a_little_beside(beside: float, order: int) -> None:
    """There the partial fractions divide by nought; 3 % beside it is 1.5 % off, 0.006 g of a whole 0.4 g."""
    response = Response(0.4 * beside, order)
    expected = shown(fading_pan_g(0.4), response)
    assert fade_shape(TIME_S - BEGIN_S, 0.4, response) == pytest.approx(0.4 - expected, abs=0.015)


@pytest.mark.parametrize("response", [*RESPONSES, Response(0.0)], ids=str)
def test_the_second_answer_has_the_streams_pressure(response: Response) -> None:
    since_s = TIME_S - BEGIN_S
    square, with_pressure = shown_square(since_s, response), pressed(since_s, response)
    slope = np.gradient(square, TIME_S)
    assert with_pressure - square == pytest.approx(FALL_S * slope, abs=1e-3)
    assert (square[since_s < 0.0] == 0.0).all()


@pytest.mark.parametrize("response", [*RESPONSES, Response(0.0)], ids=str)
def test_both_answers_at_once_are_those_of_each_alone(response: Response) -> None:
    since_s = TIME_S - BEGIN_S
    square, with_pressure = shown_and_pressed(since_s, response, left_of_lag(since_s, response.stage_s))
    assert square == pytest.approx(shown_square(since_s, response), abs=1e-12)
    assert with_pressure == pytest.approx(pressed(since_s, response), abs=1e-12)


def test_of_a_lag_all_is_left_before_the_turn_and_nothing_minutes_after() -> None:
    left = left_of_lag(np.array([-400.0, -0.1, 0.0, 0.3, 0.9, 400.0]), 0.3)
    assert left == pytest.approx([1.0, 1.0, 1.0, np.exp(-1.0), np.exp(-3.0), 0.0], abs=1e-40)


def test_of_no_lag_at_all_nothing_is_left_after_the_turn() -> None:
    assert left_of_lag(np.array([-0.1, 0.1]), 0.0) == pytest.approx([1.0, 0.0], abs=1e-40)

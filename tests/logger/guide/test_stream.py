"""Weight and flow at this very moment, from readings that come late, in bursts, and some not at all."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.guide.stream import FOLLOWED_S, Stream


def poured(rate_hz: float, burst: int = 1, noise_g: float = 0.0, flow_g_s: float = 5.0) -> Stream:
    stream, rng = Stream(), np.random.default_rng(1)
    count = round(4.0 * rate_hz / burst) * burst
    for number in range(count):
        at_s = (number // burst * burst + burst - 1) / rate_hz + (number % burst) / 1000
        stream.push(at_s, flow_g_s * number / rate_hz + noise_g * rng.normal())
    return stream


@pytest.mark.parametrize(
    ("rate_hz", "burst"), [(4.0, 1), (10.0, 1), (50.0, 1), (10.0, 4), (5.0, 3), (20.0, 2)]
)
def test_an_even_flow_is_known_whatever_the_pace_and_the_packing(rate_hz: float, burst: int) -> None:
    stream = poured(rate_hz, burst)
    assert stream.flow_g_s == pytest.approx(5.0, rel=0.01)
    last_s = stream._arrived_s
    assert stream.weight_g(last_s) == pytest.approx(5.0 * last_s, abs=0.1)


def test_noise_is_averaged_out() -> None:
    quiet, noisy = poured(10.0), poured(10.0, noise_g=0.1)
    assert noisy.flow_g_s == pytest.approx(quiet.flow_g_s, abs=0.3)
    assert noisy.weight_g(4.0) == pytest.approx(quiet.weight_g(4.0), abs=0.2)


def test_between_two_readings_the_stream_is_followed_but_not_for_long() -> None:
    stream = poured(10.0)
    last_s = 3.9
    assert stream.weight_g(last_s + 0.2) == pytest.approx(stream.weight_g(last_s) + 1.0)
    held = stream.weight_g(last_s + FOLLOWED_S)
    assert stream.weight_g(last_s + 60.0) == held


def test_nothing_is_known_before_the_first_reading() -> None:
    assert Stream().weight_g(3.0) == 0.0
    alone = Stream()
    alone.push(1.0, 7.0)
    assert (alone.weight_g(1.1), alone.flow_g_s) == (7.0, 0.0)


@settings(max_examples=40)
@given(st.lists(st.tuples(st.floats(0.0, 2.0), st.floats(-1e4, 1e4)), max_size=120))
def test_any_readings_give_finite_numbers_in_bounded_memory(steps: list[tuple[float, float]]) -> None:
    stream, time_s = Stream(), 0.0
    for step_s, weight_g in steps:
        time_s += step_s
        stream.push(time_s, weight_g)
        assert np.isfinite(stream.flow_g_s) and np.isfinite(stream.weight_g(time_s + 0.1))
    assert len(stream._last) <= 64

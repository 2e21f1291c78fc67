"""The scale: steps, zero, noise; and what its radio does to the order of things."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.simulated.bench import Tare
from drivers.simulated.scale import Instrument, deliver, settled_force, to_step, weigh

PERFECT = Instrument(
    rate_hz=10.0,
    step_g=0.0,
    lags_s=(),
    noise_g=0.0,
    jitter_share=0.0,
    clock_ppm=0.0,
    burst=1,
    connection_s=0.0,
    latency_s=0.0,
    drop_share=0.0,
    doubled_share=0.0,
    gaps_s=(),
)
TIME_S = np.arange(0, 100, 0.002)


def _rng() -> np.random.Generator:
    return np.random.default_rng(7)


@settings(deadline=None)
@given(value=st.floats(-5000, 5000), step=st.sampled_from([0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0]))
def test_a_display_shows_whole_steps_without_dust(value: float, step: float) -> None:
    shown = float(to_step(np.array([value]), step)[0])
    assert abs(shown - value) <= step / 2 + 1e-9
    assert len(repr(abs(shown)).partition(".")[2]) <= 2
    assert repr(shown) != "-0.0"


def test_rounding_adds_the_noise_that_the_guide_says() -> None:
    """Uncertainty of a step q is q / sqrt(12), 0.29 q: GUM F.2.2.1 (clause from memory)."""
    values = _rng().uniform(0, 50, 20_000)
    assert np.std(to_step(values, 0.1) - values) == pytest.approx(0.1 / np.sqrt(12), rel=0.02)


def test_noise_is_what_was_asked_for() -> None:
    _, shown = weigh(TIME_S, np.zeros_like(TIME_S), (), replace(PERFECT, rate_hz=50.0, noise_g=0.08), _rng())
    assert np.std(shown) == pytest.approx(0.08, rel=0.05)


def test_the_clock_of_the_scale_sets_the_pace() -> None:
    sample_s, _ = weigh(TIME_S, np.zeros_like(TIME_S), (), replace(PERFECT, clock_ppm=2000.0), _rng())
    assert np.diff(sample_s) == pytest.approx(0.1002)


def test_a_tare_takes_what_has_come_through_the_filter() -> None:
    """After two time constants a step has gone 86.5 % of its way; the rest shows after the tare."""
    force_g = np.where(TIME_S >= 10.0, 200.0, 0.0)
    instrument = replace(PERFECT, lags_s=(0.5,))
    settled_g = settled_force(force_g, 0.002, instrument)
    sample_s, shown = weigh(TIME_S, settled_g, (Tare(10.9, 11.0),), instrument, _rng())
    assert shown[sample_s < 10.0] == pytest.approx(0.0)
    assert shown[-1] == pytest.approx(200.0 * np.exp(-2), rel=0.01)
    late = weigh(TIME_S, settled_g, (Tare(29.8, 30.0),), instrument, _rng())[1]
    assert late[-1] == pytest.approx(0.0, abs=1e-6)


def test_messages_arrive_packed_and_at_the_radio_s_own_moments() -> None:
    sample_s = np.arange(0, 60, 0.1)
    instrument = replace(PERFECT, burst=3, connection_s=0.05, latency_s=0.02)
    delivery = deliver(sample_s, sample_s * 2, instrument, _rng())
    together = np.diff(delivery.arrival_s) < 0.01
    assert together.mean() == pytest.approx(2 / 3, abs=0.01)
    latency_s = delivery.arrival_s - delivery.sample_s
    assert latency_s.min() >= 0.02 - 1e-9
    assert latency_s.max() <= 0.02 + 0.2 + 0.05 + 0.01
    assert (np.diff(delivery.arrival_s) >= 0).all()
    assert delivery.value_g == pytest.approx(delivery.sample_s * 2)


def test_lost_and_doubled_readings_come_in_the_share_asked_for() -> None:
    """Within four standard deviations of the binomial distribution."""
    sample_s = np.arange(0, 1000, 0.1)
    instrument = replace(PERFECT, drop_share=0.05, doubled_share=0.03)
    seen, copies = np.unique(deliver(sample_s, sample_s, instrument, _rng()).sample_s, return_counts=True)
    assert 1 - len(seen) / len(sample_s) == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 10_000))
    assert (copies == 2).mean() == pytest.approx(0.03, abs=4 * np.sqrt(0.03 * 0.97 / 10_000))


def test_a_silence_is_silent() -> None:
    sample_s = np.arange(0, 60, 0.1)
    delivery = deliver(sample_s, sample_s, replace(PERFECT, gaps_s=((20.0, 22.5),)), _rng())
    assert not ((delivery.sample_s >= 20.0) & (delivery.sample_s < 22.5)).any()
    assert np.diff(delivery.arrival_s).max() == pytest.approx(2.5, abs=0.11)


def test_the_scale_s_own_time_runs_at_the_scale_s_own_pace() -> None:
    sample_s = np.arange(0, 60, 0.1) * 1.003
    delivery = deliver(sample_s, sample_s, replace(PERFECT, clock_ppm=3000.0), _rng())
    assert np.diff(delivery.device_s) == pytest.approx(0.1)

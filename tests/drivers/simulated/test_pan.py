"""The forces on the pan: what stays, what leaves nothing behind, how hard a stream presses."""

import math

import numpy as np
import pytest

from drivers.simulated.bench import Bench, Move, Shake
from drivers.simulated.pan import fall_time_s, pan_g

TIME_S = np.arange(0, 20, 0.002)
NOTHING = np.zeros_like(TIME_S)


def _pan(bench: Bench, flow_g_s: float = 0.0, fall_m: float = 0.0) -> np.ndarray:
    flowing = NOTHING + flow_g_s
    return pan_g(TIME_S, NOTHING, flowing, bench, fall_time_s(fall_m), np.random.default_rng(2))


def test_a_stream_presses_with_its_momentum() -> None:
    """Torricelli: v = sqrt(2 g h); a jet stopped by the pan presses with mass flow times speed (textbook)."""
    speed_m_s = math.sqrt(2 * 9.80665 * 0.10)
    force_n = 6.0e-3 * speed_m_s
    assert _pan(Bench(), flow_g_s=6.0, fall_m=0.10)[0] == pytest.approx(1000 * force_n / 9.80665)
    assert _pan(Bench(), flow_g_s=0.0, fall_m=0.10)[0] == 0.0


def test_a_vessel_stays() -> None:
    bench = Bench(moves=[Move("vessel-on", 5.0, 5.8, 400.0, ((0.0, 400.0),), 0.4, push_g=60.0)])
    force_g = _pan(bench)
    assert force_g[TIME_S < 5.0].max() == 0.0
    assert force_g[TIME_S > 5.8] == pytest.approx(400.0)
    assert force_g.max() > 410.0


def test_coffee_arrives_portion_by_portion() -> None:
    bench = Bench(moves=[Move("dose", 4.0, 7.0, 15.0, ((0.0, 9.0), (2.0, 6.0)), 1.0)])
    force_g = _pan(bench)
    assert np.interp(5.5, TIME_S, force_g) == pytest.approx(9.0)
    assert np.interp(8.0, TIME_S, force_g) == pytest.approx(15.0)
    assert (np.diff(force_g) >= 0).all()


def test_stirring_moves_the_pan_and_leaves_nothing_behind() -> None:
    force_g = _pan(Bench(shakes=[Shake("stir", 3.0, 7.0, 12.0)]))
    stirred = force_g[(TIME_S >= 3.0) & (TIME_S < 7.0)]
    assert stirred.mean() == pytest.approx(0.0, abs=1e-6)
    assert 5.0 < np.abs(stirred).max() < 25.0
    assert np.abs(force_g[(TIME_S < 3.0) | (TIME_S > 7.0)]).max() == 0.0


def test_a_knock_is_short_and_leaves_nothing_behind() -> None:
    force_g = _pan(Bench(shakes=[Shake("knock", 3.0, 3.2, 40.0)]))
    assert np.abs(force_g).max() > 30.0
    assert np.abs(force_g[(TIME_S < 3.0) | (TIME_S > 3.21)]).max() == 0.0

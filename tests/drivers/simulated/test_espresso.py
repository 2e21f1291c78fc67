"""The shot: windows kept, yield reached, slow ramp, rising stream, after-drip."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from drivers.simulated import CLEAN, MEDIUM, Plan, simulate
from drivers.simulated.espresso import Shot, decide_shot, shot_flow

TIME_S = np.arange(-5, 60, 0.002)


def test_an_unerring_shot_lies_in_the_middle_of_its_windows(espresso: Plan) -> None:
    assert espresso.shot is not None
    shot = decide_shot(espresso.shot, CLEAN, np.random.default_rng(0))
    assert (shot.first_drip_s, shot.stop_s, shot.yield_g) == (6.5, 27.5, 36.0)


def test_most_shots_lie_near_their_windows(espresso: Plan) -> None:
    ends_s, drips_s = [], []
    for seed in range(60):
        truth = simulate(espresso, seed, MEDIUM).truth
        assert truth.pump_start_s is not None
        drips_s.append(truth.brew_start_s - truth.pump_start_s)
        ends_s.append(truth.brew_end_s - truth.pump_start_s)
        assert truth.total_g == pytest.approx(36.0, abs=4 * MEDIUM.weight_error_g)
    assert np.percentile(drips_s, [10, 90]) == pytest.approx([6.5, 6.5], abs=2.5)
    assert 24.0 < np.median(ends_s) < 31.0


def test_the_stream_ramps_up_rises_and_fades() -> None:
    shot = Shot(6.0, 28.0, 36.0, ramp_s=4.0, bend=1.5, rise=0.4, after_drip_s=0.8)
    flow_g_s = shot_flow(shot, TIME_S, CLEAN, np.random.default_rng(0))
    assert trapezoid(flow_g_s, TIME_S) == pytest.approx(36.0, abs=0.01)
    at = {second: float(np.interp(second, TIME_S, flow_g_s)) for second in (-1.0, 0.5, 4.0, 21.9, 24.4)}
    assert at[-1.0] == 0.0
    assert 0.0 < at[0.5] < 0.2 * at[4.0]
    assert at[21.9] / at[4.0] == pytest.approx(1.4, abs=0.01)
    # The stream fades with its time constant: after three of them about 5 % are left (exp(-3)).
    assert at[24.4] / at[21.9] == pytest.approx(np.exp(-3), rel=0.02)

"""The hand: it pours what was planned, with the errors of a hand and no others."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import signal
from scipy.integrate import trapezoid

from drivers.simulated import CLEAN, HARD, MEDIUM, Plan
from drivers.simulated.hand import HandPour, decide_pours, hand_flow, landed, wobble

STEP_S = 0.002
TIME_S = np.arange(0, 120, STEP_S)


def _rng(seed: int = 3) -> np.random.Generator:
    return np.random.default_rng(seed)


def test_an_unerring_hand_pours_the_plan(pour_over: Plan) -> None:
    pours = decide_pours(pour_over, CLEAN, _rng())
    assert [pour.start_s for pour in pours] == [0.0, 45.0, 75.0]
    assert [pour.poured_g for pour in pours] == pytest.approx([45.0, 105.0, 100.0])
    assert [pour.duration_s for pour in pours] == pytest.approx([7.5, 17.5, 20.0])


def test_starts_and_weights_err_as_much_as_asked_for(pour_over: Plan) -> None:
    """Over 400 brews; within four standard errors."""
    rng = _rng()
    brews = [decide_pours(pour_over, MEDIUM, rng) for _ in range(400)]
    starts_s = np.array([pours[1].start_s for pours in brews])
    totals_g = np.array([sum(pour.poured_g for pour in pours) for pours in brews])
    assert np.std(starts_s) == pytest.approx(MEDIUM.start_error_s, rel=4 / np.sqrt(2 * 400))
    assert np.mean(starts_s) == pytest.approx(45.0, abs=4 * 0.7 / 20)
    assert np.std(totals_g) == pytest.approx(MEDIUM.weight_error_g, rel=4 / np.sqrt(2 * 400))


def test_a_pause_never_gets_shorter_than_a_hand_can_make_it(pour_over: Plan) -> None:
    rng = _rng()
    for _ in range(200):
        pours = decide_pours(pour_over, HARD, rng)
        pauses_s = [b.start_s - a.quiet_s for a, b in pairwise(pours)]
        assert min(pauses_s) >= 2.0 - 1e-9


def test_a_short_pause_is_one_of_two_to_three_and_a_half_seconds(pour_over: Plan) -> None:
    hurried = replace(HARD, short_pause_chance=1.0)
    pours = decide_pours(pour_over, hurried, _rng())
    pauses_s = [b.start_s - a.quiet_s for a, b in pairwise(pours)]
    assert sum(2.0 <= pause_s <= 3.5 for pause_s in pauses_s) == 1


def test_the_flow_brings_what_was_poured() -> None:
    pour = HandPour(2.0, 60.0, 6.0, rise_s=0.6, fall_s=0.4, dribble_g_s=0.3)
    flow_g_s = hand_flow([pour], TIME_S, MEDIUM, _rng())
    assert trapezoid(flow_g_s, TIME_S) == pytest.approx(60.0, abs=0.01)
    assert flow_g_s[TIME_S < 1.999].max() == 0.0
    assert flow_g_s.min() >= 0.0


def test_a_halved_pour_halves_and_still_brings_all() -> None:
    steady = replace(CLEAN, ramp_s=(0.3, 0.3))
    pour = HandPour(0.0, 120.0, 6.0, rise_s=0.3, fall_s=0.3, halved=(0.5, 0.4, 1.0))
    flow_g_s = hand_flow([pour], TIME_S, steady, _rng())
    before, after = np.interp([0.2 * pour.duration_s, 0.8 * pour.duration_s], TIME_S, flow_g_s)
    assert after / before == pytest.approx(0.5, abs=0.01)
    assert before == pytest.approx(6.0, rel=0.03)
    assert trapezoid(flow_g_s, TIME_S) == pytest.approx(120.0, abs=0.01)


def test_the_wobble_is_slow() -> None:
    """Its power lies between 0.2 and 1 Hz, by scipy's periodogram."""
    hz, power = signal.periodogram(wobble(TIME_S, _rng()), 1 / STEP_S)
    assert power[(hz > 0.18) & (hz < 1.03)].sum() / power.sum() > 0.99
    assert np.std(wobble(TIME_S, _rng())) == pytest.approx(1.0, rel=0.1)


def test_a_thin_stream_lands_drop_by_drop() -> None:
    flow_g_s = np.where((TIME_S >= 5) & (TIME_S < 45), 0.2, 0.0)
    weight_g = np.concatenate(([0.0], np.cumsum((flow_g_s[1:] + flow_g_s[:-1]) * STEP_S / 2)))
    received_g = landed(flow_g_s, weight_g, 0.05, [int(5 / STEP_S)])
    drops_g = np.diff(received_g)
    assert drops_g[drops_g > 0] == pytest.approx(0.05)
    assert (drops_g > 0).sum() in (160, 161)  # 8 g in drops of 0.05 g
    assert np.abs(received_g - weight_g).max() <= 0.05 + 1e-9
    assert TIME_S[np.argmax(received_g > 0)] == pytest.approx(5.0, abs=STEP_S)


def test_a_full_stream_is_no_row_of_drops() -> None:
    flow_g_s = np.full_like(TIME_S, 5.0)
    weight_g = TIME_S * 5.0
    assert landed(flow_g_s, weight_g, 0.05, [0]) == pytest.approx(weight_g)

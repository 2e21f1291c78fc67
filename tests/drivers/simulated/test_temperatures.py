"""Kettle and slurry against textbook cooling, the mixing rule, and scipy's solver."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from drivers.simulated import CLEAN, MEDIUM, Plan, read_plan, simulate
from drivers.simulated.brew import KETTLE, SLURRY
from drivers.simulated.temperatures import WATER_J_GK, heat_balance, lifted, probe

STEP_S = 0.02


def _cooling(start_c: float, room_c: float, k_min: float, minutes: float) -> float:
    """Let a cup without inflow cool; its loss to the room is k times its heat capacity."""
    time_s = np.arange(0, 60 * minutes + STEP_S, STEP_S)
    capacity, none = np.full_like(time_s, 900.0), np.zeros_like(time_s)
    cooled = heat_balance(STEP_S, start_c, capacity, none, none, k_min / 60 * 900.0, room_c)
    return float(np.interp(60 * minutes, time_s, cooled))


def test_coffee_cools_as_the_published_example_says() -> None:
    """205 °F in a room of 73 °F is 161.9 °F after 5 min with k = 0.079 per minute: Hawkes, VLM2 §5.7."""
    k_min = math.log((205 - 73) / (161.9 - 73)) / 5
    assert k_min == pytest.approx(0.079, abs=0.0005)
    assert _cooling(_c(205), _c(73), k_min, 5.0) == pytest.approx(_c(161.9), abs=0.01)


def test_coffee_cools_as_the_textbook_says() -> None:
    """200 °F, 70 °F room, 180 °F at 2 min: 175 °F at 2.56 min, 155 °F at 5.09 min: OpenStax Calculus 1 §6.8
    (source from memory).
    """
    k_min = math.log((200 - 70) / (180 - 70)) / 2
    assert _cooling(_c(200), _c(70), k_min, 2.0) == pytest.approx(_c(180), abs=0.01)
    assert _cooling(_c(200), _c(70), k_min, 2.5569) == pytest.approx(_c(175), abs=0.01)
    assert _cooling(_c(200), _c(70), k_min, 5.0868) == pytest.approx(_c(155), abs=0.01)


def test_mixing_without_loss_keeps_the_heat() -> None:
    """T = sum(m c T) / sum(m c), the rule of mixtures (textbook)."""
    time_s = np.arange(0, 30, STEP_S)
    inflow_w_k = np.where(time_s < 25, 8.0 * WATER_J_GK, 0.0)
    capacity = 90.0 + np.concatenate(([0.0], np.cumsum(inflow_w_k)[:-1])) * STEP_S
    mixed = heat_balance(STEP_S, 22.0, capacity, inflow_w_k, np.full_like(time_s, 93.0), 0.0, 22.0)
    water_j_k = 200 * WATER_J_GK
    assert mixed[-1] == pytest.approx((90.0 * 22.0 + water_j_k * 93.0) / (90.0 + water_j_k), abs=0.1)


def test_inflow_and_loss_together_are_what_scipy_finds() -> None:
    time_s = np.arange(0, 120, STEP_S)
    capacity = 200.0 + 10.0 * time_s
    inflow_w_k, inflow_c = 12.0 + 8.0 * np.sin(time_s / 9), 90.0 - time_s / 60

    def rate(t: float, c: np.ndarray) -> np.ndarray:
        q = 12.0 + 8.0 * math.sin(t / 9)
        return (q * (90.0 - t / 60 - c) - 0.9 * (c - 22.0)) / (200.0 + 10.0 * t)

    solved = solve_ivp(rate, (0, 119), [25.0], t_eval=[30, 60, 119], rtol=1e-9, atol=1e-9).y[0]
    ours = heat_balance(STEP_S, 25.0, capacity, inflow_w_k, inflow_c, 0.9, 22.0)
    assert np.interp([30, 60, 119], time_s, ours) == pytest.approx(solved, abs=0.05)


def test_a_kettle_loses_about_a_degree_a_minute_and_more_as_it_empties(pour_over: Plan) -> None:
    """About one degree a minute with the lid on: common practice."""
    time_s, shown_c = _channel(pour_over, KETTLE)
    assert shown_c[0] == pytest.approx(94.0, abs=0.1)
    first_minute = np.interp(0, time_s, shown_c) - np.interp(60, time_s, shown_c)
    last_minute = np.interp(120, time_s, shown_c) - np.interp(180, time_s, shown_c)
    assert 0.6 < first_minute < 1.6
    assert last_minute > 1.2 * first_minute


def test_a_slurry_is_cooler_than_its_kettle_and_warmer_than_the_room(pour_over: Plan) -> None:
    time_s, shown_c = _channel(pour_over, SLURRY)
    assert shown_c[time_s < 2.9] == pytest.approx(22.0)
    kettle_c = np.interp(time_s, *_channel(pour_over, KETTLE))
    assert (shown_c < kettle_c).all()
    assert 80.0 < shown_c.max() < 92.0


def test_a_step_with_its_own_water_gets_it() -> None:
    plan = read_plan("water_c=96\n[[stage]]\nstart=0\nto_g=60\n[[stage]]\nstart=60\nto_g=200\nwater_c=80\n")
    time_s, shown_c = _channel(plan, KETTLE)
    assert np.interp(50, time_s, shown_c) > 94.0
    assert np.interp(63, time_s, shown_c) == pytest.approx(80.0, abs=0.3)


def test_a_probe_shows_tenths_twice_a_second_and_late() -> None:
    time_s = np.arange(0, 60, STEP_S)
    true_c = np.where(time_s < 20, 22.0, 90.0)
    at_s, shown_c = probe(time_s, true_c, 60.0, MEDIUM, np.random.default_rng(1))
    assert np.diff(at_s) == pytest.approx(0.5)
    assert np.array_equal(shown_c, np.round(shown_c, 1))
    assert np.interp(20.4, at_s, shown_c) < 75.0
    assert shown_c[-1] == pytest.approx(90.0, abs=0.2)


def test_a_lifted_probe_falls_towards_the_air_and_rises_with_its_lag_in_water() -> None:
    """First order: what is left of a difference after t is exp(-t / lag) (textbook)."""
    time_s = np.arange(0, 100, STEP_S)
    shown_c = lifted(time_s, np.full_like(time_s, 92.0), [(20.0, 30.0)], 2.0, 8.0, 22.0)
    lowest_c = 22.0 + 70.0 * math.exp(-10.0 / 8.0)
    assert np.interp(19.9, time_s, shown_c) == pytest.approx(92.0)
    assert np.interp(29.98, time_s, shown_c) == pytest.approx(lowest_c, abs=0.3)
    assert np.interp(34.0, time_s, shown_c) == pytest.approx(
        92.0 - (92.0 - lowest_c) * math.exp(-2.0), abs=0.3
    )


def test_until_it_is_lifted_a_probe_shows_what_it_would_have_shown() -> None:
    time_s = np.arange(0, 60, STEP_S)
    true_c = 93.0 - time_s / 30
    plain = probe(time_s, true_c, 60.0, MEDIUM, np.random.default_rng(1))
    out = probe(time_s, true_c, 60.0, MEDIUM, np.random.default_rng(1), [(30.0, 40.0)])
    assert np.array_equal(plain[0], out[0])
    assert np.abs(plain[1] - out[1])[plain[0] < 30.0].max() <= 0.1 + 1e-9
    assert 22.0 < out[1].min() < 80.0


def _channel(plan: Plan, channel: str) -> tuple[np.ndarray, np.ndarray]:
    readings = [reading for reading in simulate(plan, 0, CLEAN).readings if reading.channel == channel]
    return np.array([r.time_s for r in readings]), np.array([r.value for r in readings])


def _c(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8

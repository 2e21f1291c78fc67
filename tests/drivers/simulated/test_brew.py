"""Whole brews: what the truth says is what was simulated, and what the presets promise is there."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from drivers.reading import CELSIUS, GRAM, is_channel_name
from drivers.simulated import CLEAN, EASY, HARD, MEDIUM, PRESETS, Plan, SimulatedBrew, simulate

LEVELS = pytest.mark.parametrize("level", ["clean", "easy", "medium", "hard"])


def _kinds(brew: SimulatedBrew) -> list[str]:
    return [event.kind for event in brew.truth.events]


def _weights(brew: SimulatedBrew) -> tuple[np.ndarray, np.ndarray]:
    weights = [reading for reading in brew.readings if reading.unit == GRAM]
    return np.array([r.time_s for r in weights]), np.array([r.value for r in weights])


@LEVELS
def test_no_water_is_lost_or_made(plan: Plan, level: str) -> None:
    for seed in range(3):
        truth = simulate(plan, seed, PRESETS[level]).truth
        assert sum(pour.poured_g for pour in truth.pours) == pytest.approx(truth.total_g, abs=1e-9)
        assert truth.total_g == truth.weight_g[-1]
        assert (np.diff(truth.weight_g) >= -1e-9).all()


@LEVELS
def test_the_weight_is_the_integral_of_the_flow(plan: Plan, level: str) -> None:
    conditions = PRESETS[level]
    truth = simulate(plan, 5, conditions).truth
    integral_g = np.concatenate(([0], np.cumsum((truth.flow_g_s[1:] + truth.flow_g_s[:-1]) * 0.001)))
    assert np.abs(truth.weight_g - integral_g).max() <= conditions.drop_g + 1e-6


@LEVELS
def test_pours_begin_and_end_where_the_flow_says(plan: Plan, level: str) -> None:
    truth = simulate(plan, 4, PRESETS[level]).truth
    assert len(truth.pours) == max(len(plan.steps), 1)
    assert truth.brew_start_s == truth.pours[0].start_s
    assert truth.brew_end_s == truth.pours[-1].end_s
    for pour in truth.pours:
        before = np.interp(pour.start_s - 0.004, truth.time_s, truth.weight_g)
        assert np.interp(pour.start_s, truth.time_s, truth.weight_g) > before
        assert np.interp(pour.t_half_g_s, truth.time_s, truth.weight_g) - before == pytest.approx(
            0.5, abs=0.06
        )
        assert np.interp(pour.end_s, truth.time_s, truth.flow_g_s) >= 0.1 - 1e-6
        after = truth.flow_g_s[(truth.time_s > pour.end_s + 0.001) & (truth.time_s < pour.end_s + 1.5)]
        assert after.max() < 0.1
        assert pour.start_s < pour.t_half_g_s < pour.end_s


def test_the_same_seed_is_the_same_brew(plan: Plan) -> None:
    one, two, other = (simulate(plan, seed, HARD) for seed in (9, 9, 10))
    assert one.readings == two.readings
    assert one.truth.pours == two.truth.pours
    assert one.truth.events == two.truth.events
    assert one.readings != other.readings


def test_another_scale_does_not_make_another_brew(pour_over: Plan) -> None:
    one = simulate(pour_over, 3, MEDIUM)
    two = simulate(pour_over, 3, replace(MEDIUM, rate_hz=(50.0,), step_g=(1.0,), lag_s=(0.8, 0.8)))
    assert one.truth.pours == two.truth.pours
    assert [(e.kind, e.start_s) for e in one.truth.events] == [(e.kind, e.start_s) for e in two.truth.events]


def test_a_clean_brew_is_the_plan_itself(pour_over: Plan) -> None:
    brew = simulate(pour_over, 1, CLEAN)
    assert brew.truth.events == ()
    starts_s = [pour.start_s - brew.truth.brew_start_s for pour in brew.truth.pours]
    assert starts_s == pytest.approx([0.0, 45.0, 75.0], abs=1e-9)
    assert [pour.poured_g for pour in brew.truth.pours] == pytest.approx([45.0, 105.0, 100.0])
    assert [pour.mean_flow_g_s for pour in brew.truth.pours] == pytest.approx([6.0, 6.0, 5.0], abs=0.01)
    time_s, weight_g = _weights(brew)
    true_g = np.interp(time_s, brew.truth.time_s, brew.truth.weight_g)
    assert np.abs(weight_g - true_g).max() <= 0.005 + 1e-6


@LEVELS
def test_readings_come_in_order_in_whole_steps_and_after_they_were_taken(plan: Plan, level: str) -> None:
    brew = simulate(plan, 2, PRESETS[level])
    times_s = [reading.time_s for reading in brew.readings]
    assert times_s == sorted(times_s)
    assert all(is_channel_name(reading.channel) for reading in brew.readings)
    time_s, weight_g = _weights(brew)
    assert len(time_s) == len(brew.truth.sample_s)
    assert (time_s - brew.truth.sample_s).min() >= 0.0
    steps = weight_g / brew.truth.instrument.step_g
    assert steps == pytest.approx(np.round(steps), abs=1e-6)


def test_kettle_and_slurry_are_measured_unless_it_is_espresso(plan: Plan) -> None:
    channels = {reading.channel for reading in simulate(plan, 0).readings if reading.unit == CELSIUS}
    assert channels == (set() if plan.method == "espresso" else {"kettle", "slurry"})
    without = simulate(plan, 0, replace(MEDIUM, thermometers=False), weight_channel="server")
    assert {reading.channel for reading in without.readings} == {"server"}


def test_medium_sets_the_bench_up_before_the_first_water(plan: Plan) -> None:
    for seed in range(10):
        truth = simulate(plan, seed, MEDIUM).truth
        before = [event.kind for event in truth.events if event.end_s < truth.brew_start_s]
        espresso = plan.method == "espresso"
        assert before == (["vessel-on", "tare"] if espresso else ["vessel-on", "tare", "dose", "tare"])


def test_a_tare_leaves_zero_behind(pour_over: Plan) -> None:
    brew = simulate(pour_over, 6, replace(MEDIUM, mid_tare_chance=1.0, drift_g_min=0.0, knocks=(0, 0)))
    _, weight_g = _weights(brew)
    tares = [event for event in brew.truth.events if event.kind == "tare"]
    assert len(tares) == 3
    noise_g = brew.truth.instrument.noise_g + brew.truth.instrument.step_g
    for tare in tares:
        after = weight_g[(brew.truth.sample_s > tare.end_s) & (brew.truth.sample_s < tare.end_s + 0.7)]
        before = weight_g[(brew.truth.sample_s > tare.start_s - 0.7) & (brew.truth.sample_s < tare.start_s)]
        assert after.mean() == pytest.approx(0.0, abs=3 * noise_g)
        assert after.mean() - before.mean() == pytest.approx(tare.change_g, abs=3 * noise_g + 0.2)


def test_medium_has_the_range_of_instruments_that_it_promises(pour_over: Plan) -> None:
    instruments = [simulate(pour_over, seed, MEDIUM).truth.instrument for seed in range(40)]
    assert {i.rate_hz for i in instruments} == {4.0, 5.0, 8.0, 10.0, 16.0, 20.0, 50.0}
    assert {i.step_g for i in instruments} == {0.01, 0.02, 0.05, 0.1}
    assert all(0.15 <= i.lags_s[0] <= 0.8 and len(i.lags_s) == 1 for i in instruments)
    assert all(i.noise_g <= 0.12 and not i.gaps_s for i in instruments)
    assert any(i.burst > 1 for i in instruments)


def test_medium_and_hard_knock_and_stir_in_pauses_or_anywhere(pour_over: Plan) -> None:
    for conditions in (MEDIUM, HARD):
        brews = [simulate(pour_over, seed, conditions) for seed in range(12)]
        kinds = {kind for brew in brews for kind in _kinds(brew)}
        assert {"knock", "stir", "vessel-off"} <= kinds
    for brew in (simulate(pour_over, seed, MEDIUM) for seed in range(12)):
        for event in brew.truth.events:
            if event.kind in ("stir", "knock"):
                assert not any(
                    event.start_s < pour.end_s and pour.start_s < event.end_s for pour in brew.truth.pours
                )
            if event.kind == "stir":
                assert 1.0 <= event.end_s - event.start_s <= 5.0


def test_hard_adds_what_it_promises(pour_over: Plan) -> None:
    brews = [simulate(pour_over, seed, HARD) for seed in range(30)]
    truths = [brew.truth for brew in brews]
    assert all("gap" in _kinds(brew) for brew in brews)
    assert any(_kinds(brew).count("tare") == 3 for brew in brews)
    assert any(truth.halved_s for truth in truths)
    assert any(truth.instrument.step_g == 1.0 for truth in truths)
    assert any(len(truth.instrument.lags_s) == 2 for truth in truths)
    assert all(len(np.unique(truth.sample_s)) < len(truth.sample_s) for truth in truths)
    pauses_s = [b.start_s - a.end_s for t in truths for a, b in pairwise(t.pours)]
    assert min(pauses_s) >= 1.95
    assert sum(pause_s <= 3.6 for pause_s in pauses_s) >= 8
    for truth in truths:
        for gap in (event for event in truth.events if event.kind == "gap"):
            assert 1.0 <= gap.end_s - gap.start_s <= 3.0
            assert not ((truth.sample_s >= gap.start_s) & (truth.sample_s < gap.end_s)).any()


def test_easy_is_easy(plan: Plan) -> None:
    for seed in range(10):
        truth = simulate(plan, seed, EASY).truth
        assert {event.kind for event in truth.events} <= {"vessel-on", "vessel-off", "tare"}
        assert truth.instrument.step_g <= 0.1
        assert truth.instrument.burst == 1


def test_a_lift_takes_the_weight_off(immersion: Plan) -> None:
    brew = simulate(immersion, 1, replace(MEDIUM, lift_chance=1.0, lid_chance=1.0))
    assert brew.truth.lifted_s is not None
    assert brew.truth.lifted_s == pytest.approx(brew.truth.brew_start_s + 240.0, abs=6.0)
    on = sum(event.change_g for event in brew.truth.events if event.kind != "tare")
    assert on == pytest.approx(-immersion.total_g, abs=1e-6)


def test_readings_carry_the_scale_s_own_time_only_where_it_has_one(pour_over: Plan) -> None:
    with_clock = simulate(pour_over, 3, replace(MEDIUM, device_clock=True))
    assert all(r.device_time_s is not None for r in with_clock.readings if r.unit == GRAM)
    assert all(r.device_time_s is None for r in simulate(pour_over, 3, MEDIUM).readings)

"""An espresso's figures against shots whose truth is known."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.simulated import CLEAN, EASY, MEDIUM, Conditions, read_plan, simulate
from drivers.simulated.espresso import Shot, decide_shot, shot_flow
from drivers.simulated.response import first_order
from drivers.simulated.truth import Truth
from logger.curve import Analysis, Pour, analyse
from logger.curve.shot.shapes import fit_stop, steepest_g_s
from logger.curve.shot.shots import ShotFigures, analysis_of_shot, main_shot, shots_of

PLAN = read_plan(
    (Path(__file__).parents[4] / "recordings" / "house-espresso.toml").read_text(encoding="utf-8")
)
STEP_S = 0.002
AS_USUAL = Shot(6.0, 28.0, 36.0, ramp_s=4.0, bend=1.5, rise=0.2, after_drip_s=0.8)


def weighed(
    *shots: tuple[float, Shot],
    until_s: float = 60.0,
    lag_s: float = 0.2,
    lifts: tuple[tuple[float, float], ...] = (),
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ten readings a second of a cup on a scale; what had really arrived at each.

    :param shots: each with when its pump starts
    :param lifts: from when to when the cup of 150 g is off the scale
    """
    grid_s = np.arange(0.0, until_s, STEP_S)
    flow_g_s = np.zeros_like(grid_s)
    for pump_s, shot in shots:
        since_s = grid_s - pump_s - shot.first_drip_s
        flow_g_s += shot_flow(shot, since_s, CLEAN, np.random.default_rng(0))
    landed_g = np.cumsum(flow_g_s) * STEP_S
    force_g = landed_g.copy()
    for from_s, to_s in lifts:
        force_g[(grid_s >= from_s) & (grid_s < to_s)] = -150.0
        after = grid_s >= to_s
        force_g[after] = landed_g[after] - landed_g[np.searchsorted(grid_s, from_s)]
    shown_g = first_order(force_g, STEP_S, lag_s)
    time_s = np.arange(0.0, until_s - 0.1, 0.1)
    noise_g = np.random.default_rng(1).normal(0.0, 0.03, time_s.size)
    return (
        time_s,
        np.round((np.interp(time_s, grid_s, shown_g) + noise_g) / 0.1) * 0.1,
        np.interp(time_s, grid_s, landed_g),
    )


def read(*shots: tuple[float, Shot], pump_s: float | None = None, **rest: object) -> tuple[ShotFigures, ...]:
    time_s, weight_g, _ = weighed(*shots, **rest)
    return shots_of(analyse(time_s, weight_g, method="espresso", response_s=0.2), pump_s)


@pytest.mark.parametrize("ramp_s", [1.5, 4.0, 7.0])
@pytest.mark.parametrize("after_drip_s", [0.3, 0.8, 1.5])
def test_every_figure_of_a_shot(ramp_s: float, after_drip_s: float) -> None:
    shot = replace(AS_USUAL, ramp_s=ramp_s, after_drip_s=after_drip_s)
    time_s, weight_g, landed_g = weighed((5.0, shot))
    (found,) = shots_of(analyse(time_s, weight_g, method="espresso", response_s=0.2), pump_s=5.0)
    stop_s = 5.0 + shot.stop_s
    assert found.pump_s == 5.0
    assert found.pre_infusion_s == pytest.approx(6.0, abs=0.9)  # a first drop is lighter than the step
    assert found.full_s == pytest.approx(11.0 + ramp_s, abs=0.3 + 0.08 * ramp_s)
    assert abs(found.full_s - 11.0 - ramp_s) < 3.0 * found.full_uncertainty_s
    assert found.stop_s == pytest.approx(stop_s, abs=0.2)
    assert abs(found.stop_s - stop_s) < 3.0 * found.stop_uncertainty_s
    assert found.shot_time_s == pytest.approx(28.0, abs=0.2)
    at_stop_g = float(np.interp(stop_s, time_s, landed_g))
    assert found.yield_at_stop_g == pytest.approx(at_stop_g, abs=0.35)
    assert found.yield_at_rest_g == pytest.approx(36.0, abs=0.2)
    assert found.after_drip_g == pytest.approx(36.0 - at_stop_g, abs=0.45)
    assert found.rest_seen
    assert found.average_flow_g_s == pytest.approx(found.yield_at_stop_g / found.extraction_s)
    assert found.average_flow_g_s == pytest.approx(at_stop_g / 22.0, rel=0.06)
    # The flow rises by 20 % up to the stop; two seconds of it are 1 % less than its end.
    full_g_s = float(found.full_flow_g_s)
    assert found.peak_flow_g_s == pytest.approx(1.2 * full_g_s, rel=0.08)
    assert found.remarks == ()


def true_stop_s(truth: Truth, seed: int, conditions: Conditions) -> tuple[float, float]:
    """When the pump stopped and when the full flow was reached, drawn as the simulation draws them."""
    rng = np.random.default_rng(np.random.SeedSequence(seed).spawn(6)[0])
    rng.normal()
    shot = decide_shot(PLAN.shot, conditions, rng)
    assert truth.pump_start_s is not None
    return truth.pump_start_s + shot.stop_s, truth.brew_start_s + shot.ramp_s


@pytest.mark.parametrize("conditions", [EASY, MEDIUM], ids=["easy", "medium"])
def test_simulated_shots_on_scales_of_all_kinds(conditions: Conditions) -> None:
    stops_s, fulls_s, sure, rests_g = [], [], [], []
    for seed in range(12):
        brew = simulate(PLAN, seed, conditions)
        readings = [reading for reading in brew.readings if reading.channel == "scale"]
        found = analyse([r.time_s for r in readings], [r.value for r in readings], method="espresso")
        (shot,) = shots_of(found, brew.truth.pump_start_s)
        stop_s, full_s = true_stop_s(brew.truth, seed, conditions)
        if shot.stop_s is not None:
            stops_s.append(abs(shot.stop_s - stop_s))
            sure.append(stops_s[-1] < 2.0 * shot.stop_uncertainty_s)
        if shot.full_s is not None:
            fulls_s.append(abs(shot.full_s - full_s))
        rests_g.append(abs(shot.yield_at_rest_g - brew.truth.total_g))
    assert len(stops_s) >= 11
    assert np.median(stops_s) < 0.15
    assert max(stops_s) < 0.6
    assert np.mean(sure) >= 0.9
    assert np.median(fulls_s) < 0.45
    assert np.median(rests_g) < 0.4


def test_without_a_mark_the_pump_is_never_guessed() -> None:
    (found,) = read((5.0, AS_USUAL))
    assert (found.pump_s, found.pre_infusion_s, found.shot_time_s) == (None, None, None)
    assert found.stop_s == pytest.approx(33.0, abs=0.2)


@pytest.mark.parametrize("pump_s", [40.0, -200.0])
def test_a_mark_that_cannot_be_this_shots_is_not_used(pump_s: float) -> None:
    (found,) = read((5.0, AS_USUAL), pump_s=pump_s)
    assert found.pump_s is None
    assert "pump's start is marked" in found.remarks[0]


def test_two_espressos_in_one_recording_are_two() -> None:
    first, second = read((5.0, AS_USUAL), (50.0, replace(AS_USUAL, yield_g=40.0)), until_s=100.0, pump_s=50.0)
    assert first.yield_at_rest_g == pytest.approx(36.0, abs=0.3)
    assert second.yield_at_rest_g == pytest.approx(40.0, abs=0.3)
    assert second.stop_s == pytest.approx(78.0, abs=0.2)
    assert (first.pump_s, second.pump_s) == (None, 50.0)
    assert main_shot((first, second)) is first


def test_a_rinse_before_the_shot_is_not_the_shot() -> None:
    rinse = Shot(0.5, 4.5, 8.0, ramp_s=0.3, after_drip_s=0.3)
    shots = read((5.0, rinse), (30.0, AS_USUAL), until_s=90.0)
    assert [round(shot.yield_at_rest_g) for shot in shots] == [8, 36]
    assert main_shot(shots) is shots[1]


def test_a_shot_that_is_cut_and_goes_on_is_one_with_its_last_stop() -> None:
    first, again = (
        replace(AS_USUAL, stop_s=18.0, yield_g=18.0),
        Shot(0.2, 10.0, 18.0, ramp_s=0.5, after_drip_s=0.6),
    )
    (found,) = read((5.0, first), (28.0, again))
    assert len(found.pours) == 2
    assert found.stop_s == pytest.approx(38.0, abs=0.3)
    assert found.yield_at_rest_g == pytest.approx(36.0, abs=0.4)
    assert "cut and went on, in 2 parts" in found.remarks[0]


def test_a_cup_lifted_right_after_the_stop_leaves_the_yield_that_was_seen() -> None:
    slow = replace(AS_USUAL, after_drip_s=1.5)
    time_s, weight_g, landed_g = weighed((5.0, slow), lifts=((34.2, 200.0),))
    (found,) = shots_of(analyse(time_s, weight_g, method="espresso", response_s=0.2))
    assert not found.rest_seen
    assert found.yield_at_rest_g == pytest.approx(float(np.interp(34.2, time_s, landed_g)), abs=0.5)
    assert any("The cup was lifted" in remark for remark in found.remarks)
    assert found.after_drip_s is None


def test_a_cup_lifted_afterwards_changes_nothing() -> None:
    (found,) = read((5.0, AS_USUAL), lifts=((45.0, 200.0),))
    assert found.rest_seen
    assert found.stop_s == pytest.approx(33.0, abs=0.2)
    assert found.yield_at_rest_g == pytest.approx(36.0, abs=0.2)


def test_readings_that_end_in_the_shot_show_no_stop() -> None:
    (found,) = read((5.0, AS_USUAL), until_s=27.0)
    assert (found.stop_s, found.yield_at_stop_g, found.average_flow_g_s) == (None, None, None)
    assert not found.rest_seen
    assert found.remarks == ("The readings end while espresso still ran: no stop was seen.",)


def test_readings_missing_at_the_stop_show_no_stop() -> None:
    time_s, weight_g, _ = weighed((5.0, AS_USUAL))
    heard = (time_s < 31.5) | (time_s > 34.5)
    (found,) = shots_of(analyse(time_s[heard], weight_g[heard], method="espresso"))
    assert found.stop_s is None
    assert "no readings around the stop" in found.remarks[0]


def test_the_shot_alone_counts_from_its_own_first_drip() -> None:
    time_s, weight_g, _ = weighed((5.0, AS_USUAL), (50.0, replace(AS_USUAL, yield_g=40.0)), until_s=100.0)
    whole = analyse(time_s, weight_g, method="espresso")
    second = shots_of(whole)[1]
    alone = analysis_of_shot(whole, second)
    assert alone.start_s == second.first_drip_s
    assert alone.total_g == pytest.approx(40.0, abs=0.3)
    assert alone.pours[0].from_g == 0.0


def test_a_stop_is_fitted_as_the_formula_has_it() -> None:
    """2 g/s that fade from 10 s on with 0.7 s: 2 * 0.7 g still arrive."""
    time_s = np.arange(5.0, 17.0, 0.1)
    after_s = np.maximum(time_s - 10.0, 0.0)
    weight_g = 2.0 * np.minimum(time_s, 10.0) + 2.0 * 0.7 * (1.0 - np.exp(-after_s / 0.7))
    stop = fit_stop(time_s, weight_g, 0.01)
    assert stop is not None
    assert stop.time_s == pytest.approx(10.0, abs=0.02)
    assert (stop.weight_g, stop.flow_g_s) == (pytest.approx(20.0, abs=0.05), pytest.approx(2.0, abs=0.03))
    assert stop.fade_s == pytest.approx(0.7, rel=0.15)
    assert fit_stop(time_s, 2.0 * time_s, 0.01) is None  # a stream that goes on


def test_the_steepest_two_seconds() -> None:
    time_s = np.arange(0.0, 20.0, 0.1)
    weight_g = np.cumsum(np.where((time_s > 8) & (time_s < 12), 3.0, 1.0)) * 0.1
    assert steepest_g_s(time_s, weight_g) == pytest.approx(3.0, abs=0.02)
    assert steepest_g_s(time_s[:5], weight_g[:5]) is None


def test_a_mark_that_is_no_moment_is_refused() -> None:
    with pytest.raises(ValueError, match="no moment"):
        read((5.0, AS_USUAL), pump_s=math.nan)


def test_without_a_pour_there_is_no_shot() -> None:
    assert shots_of(analyse(np.arange(0, 20, 0.1), np.zeros(200))) == ()
    assert main_shot(()) is None


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-5.0, 5.0) | st.just(math.nan), min_size=20, max_size=300),
    st.none() | st.floats(-100.0, 100.0),
    st.floats(0.02, 2.0),
)
def test_any_curve_gives_figures_or_remarks(
    steps_g: list[float], pump_s: float | None, interval_s: float
) -> None:
    weight_g = np.nancumsum(steps_g)
    weight_g[~np.isfinite(steps_g)] = math.nan
    analysis = analyse(interval_s * np.arange(weight_g.size), weight_g, method="espresso")
    for shot in shots_of(analysis, pump_s):
        assert shot.first_drip_s <= shot.end_s
        assert shot.stop_s is not None or shot.remarks
        assert shot.after_drip_g is None or shot.after_drip_g >= 0


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(width=32), min_size=4, max_size=60))
def test_weights_that_are_no_numbers_do_no_harm(weights: list[float]) -> None:
    weight_g = np.clip(np.array(weights), -1e6, 1e6)
    time_s = 0.1 * np.arange(weight_g.size)
    pour = Pour(0.0, float(time_s[-1]), 0.0, 30.0, 30.0, 1.5, 2.0)
    analysis = Analysis(
        "espresso", 0.0, pour.end_s, 30.0, (pour,), (), time_s, weight_g, weight_g, 0.2, 0.05, 0.1
    )
    assert len(shots_of(analysis)) == 1

"""The planned curve and its corridor."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from logger.target import Target, corridor, curve, first_weight_s, last_s, parse_target, stage_spans
from tests.logger.target.written_targets import TARGETS, poured_targets


def test_the_curve_goes_through_every_stage(pour_over: str) -> None:
    target = parse_target(pour_over, "")
    # Bloom 45 g at 5 g/s; pour 1 without a flow is drawn at 6 g/s, so 95 g take 15.83 s; pour 2 takes 18 s.
    times_s = [-1, 0, 4.5, 9, 44, 45, 45 + 95 / 6, 75, 84, 93, 500]
    weights_g = [0, 0, 22.5, 45, 45, 45, 140, 140, 195, 250, 250]
    assert curve(target, times_s) == pytest.approx(weights_g)
    assert [span.assumed for span in stage_spans(target)] == [False, True, False]


def test_the_corridor_by_hand(pour_over: str) -> None:
    target = parse_target(pour_over, "")
    low, high = corridor(target, [5.0, 30.0, 45.0, 78.0, 200.0])
    # 5 s: bloom at 3.5 and 6.5 g/s; 30 s: 45 +-3; 45 s: pour 1 may have run 3 s at 7.5 g/s, or not begun;
    # 78 s: pour 2 must begin by now with 137 g, and may have run 6 s at 110/18 + 1.5 g/s from 143 g.
    assert low == pytest.approx([17.5, 42.0, 42.0, 137.0, 249.0])
    assert high == pytest.approx([32.5, 48.0, 48.0 + 22.5, 143 + 6 * (110 / 18 + 1.5), 251.0])


def test_a_shot_runs_from_its_drip_window_to_its_time_window(espresso: str) -> None:
    target = parse_target(espresso, "")
    low, high = corridor(target, [5.0, 8.0, 25.0, 30.0])
    assert first_weight_s(target) == 6.5
    assert last_s(target) == 30.0
    assert low == pytest.approx([0, 0, 33 * 17 / 22, 33])
    assert high == pytest.approx([0, 39 * 3 / 20, 39, 39])
    assert curve(target, [6.5, 17.0, 27.5]) == pytest.approx([0, 18, 36])


@settings(deadline=None)  # other work may share the processor
@given(TARGETS)
def test_the_corridor_holds_the_plan_and_never_falls(target: Target) -> None:
    time_s = np.linspace(-5, last_s(target) + 60, 400)
    plan_g = curve(target, time_s)
    low_g, high_g = corridor(target, time_s)
    assert (low_g <= plan_g + 1e-9).all()
    assert (plan_g <= high_g + 1e-9).all()
    assert (np.diff(low_g) >= -1e-9).all()
    assert (np.diff(high_g) >= -1e-9).all()
    assert plan_g[-1] == pytest.approx(target.total_g)


@settings(deadline=None)  # other work may share the processor
@given(poured_targets(), st.data())
def test_a_brew_inside_all_its_tolerances_stays_in_the_corridor(target: Target, data: st.DataObject) -> None:
    time_s = np.linspace(0, last_s(target) + 60, 300)
    low_g, high_g = corridor(target, time_s)
    weight_g = brewed(target, time_s, data)
    assert (low_g <= weight_g + 1e-6).all()
    assert (weight_g <= high_g + 1e-6).all()


def brewed(target: Target, time_s: NDArray[np.float64], data: st.DataObject) -> NDArray[np.float64]:
    """A brew whose every start, flow, end and weight is inside, drawn at will; stages wait for each other."""
    times, weights, free_s, from_g = [0.0], [0.0], 0.0, 0.0
    spans = stage_spans(target)
    for number, (stage, span) in enumerate(zip(target.stages, spans, strict=True)):
        allowed = stage.tolerance
        slack_s = allowed.start_s if number else 0.0
        start_s = between(data, max(span.start_s - slack_s, free_s), span.start_s + slack_s)
        to_g = between(data, max(stage.to_g - allowed.weight_g, from_g + 0.01), stage.to_g + allowed.weight_g)
        earliest_s = -np.inf if span.assumed else span.end_s - allowed.end_s
        latest_s = np.inf if span.assumed else span.end_s + allowed.end_s
        if number + 1 < len(spans):
            following = target.stages[number + 1]
            latest_s = min(latest_s, following.start_s + following.tolerance.start_s)
        pour_g = to_g - from_g
        slowest = max(span.flow_g_s - allowed.flow_g_s, 0.5)
        fastest = min(span.flow_g_s + allowed.flow_g_s, 15.0)
        took_s = between(
            data,
            max(pour_g / fastest, earliest_s - start_s),
            min(pour_g / slowest, latest_s - start_s),
        )
        times += [start_s, start_s + took_s]
        weights += [from_g, to_g]
        free_s, from_g = start_s + took_s, to_g
    return np.interp(time_s, times, weights)


def between(data: st.DataObject, low: float, high: float) -> float:
    """A number within limits, often at one of them; where there is none the brew cannot be."""
    assume(low <= high)
    return low + (high - low) * data.draw(st.sampled_from([0.0, 1.0]) | st.floats(0, 1))

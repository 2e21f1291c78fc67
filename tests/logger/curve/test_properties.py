"""What holds for any readings at all, and for any brew."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.simulated import simulate
from logger.curve import Analysis, LiveAnalysis, Pour, analyse
from logger.curve.brew import Method
from tests.benchmarks.curve_suite import LEVELS, PLANS, Floats, weights

ANY = st.floats(allow_nan=True, allow_infinity=True, width=64)
LIKELY_G = st.one_of(
    st.floats(-2000.0, 2000.0),
    st.sampled_from([0.0, 250.0, -0.1, 0.1, 1e6, -1e6, 1e7, 1e300, float("nan"), float("inf")]),
)
STEPS_S = st.sampled_from([0.0, 1e-9, 0.02, 0.1, 0.1, 0.1, 0.25, 1.0, 3.0, 100.0, 1e5])
SIMULATED = {"max_examples": 6, "deadline": None}


def assert_sound(brew: Analysis) -> None:
    """Check what an analysis promises, whatever it was made of."""
    assert brew.time_s.shape == brew.weight_g.shape == brew.flow_g_s.shape
    for values in (brew.time_s, brew.weight_g, brew.flow_g_s):
        assert np.isfinite(values).all()
    assert np.isfinite([brew.total_g, brew.response_s, brew.noise_g, brew.step_g, brew.drift_g]).all()
    assert (brew.flow_g_s >= 0.0).all()
    assert np.isfinite(brew.flow_sd_g_s).all()
    assert (brew.flow_sd_g_s >= 0.0).all()
    assert (brew.method is None) == (brew.start_s is None) == (brew.end_s is None) == (not brew.pours)
    assert brew.total_g == pytest.approx(sum(pour.poured_g for pour in brew.pours), rel=1e-9)
    if brew.weight_g.size:
        changed_g = brew.weight_g[-1] - brew.weight_g[0]
        assert brew.total_g + brew.drift_g == pytest.approx(changed_g, rel=1e-9, abs=1e-6)
    to_g = 0.0
    for pour in brew.pours:
        assert pour.start_s < pour.end_s
        assert pour.from_g == to_g
        assert pour.to_g == pytest.approx(pour.from_g + pour.poured_g, rel=1e-12)
        assert pour.poured_g > 0.0
        assert 0.0 < pour.mean_flow_g_s <= pour.peak_flow_g_s < np.inf
        assert_in_order(pour)
        to_g = pour.to_g
    for one, other in pairwise(brew.pours):
        assert one.end_s <= other.start_s
    began_s = [event.start_s for event in brew.events]
    assert began_s == sorted(began_s)
    for event in brew.events:
        assert event.start_s <= event.end_s
        assert np.isfinite([event.start_s, event.end_s, event.change_g]).all()


def assert_in_order(pour: Pour) -> None:
    """Check that every range that is given is finite and holds what was read."""
    for between, value in (
        (pour.start_between_s, pour.start_s),
        (pour.end_between_s, pour.end_s),
        (pour.poured_between_g, pour.poured_g),
    ):
        if between is not None:
            assert np.isfinite(between).all()
            assert between[0] <= value <= between[1]
    if pour.poured_between_g is not None:
        assert pour.poured_between_g[0] >= 0.0


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(ANY, ANY), max_size=60))
def test_any_numbers_at_all_are_read_or_refused(readings: list[tuple[float, float]]) -> None:
    try:
        brew = analyse([time_s for time_s, _ in readings], [weight for _, weight in readings])
    except ValueError as refusal:
        assert str(refusal)
    else:
        assert_sound(brew)


@settings(max_examples=100, deadline=None)
@given(
    every_s=st.floats(0.05, 20.0),
    flow_g_s=st.floats(0.2, 12.0),
    lasts_s=st.floats(2.0, 200.0),
    method=st.sampled_from([None, "pour-over", "immersion", "espresso"]),
)
def test_a_pour_of_which_few_readings_were_taken_is_read_or_left_out(
    every_s: float, flow_g_s: float, lasts_s: float, method: Method | None
) -> None:
    time_s = np.arange(0.0, 200.0 + lasts_s, every_s)
    weight_g = flow_g_s * np.clip(time_s - 100.0, 0.0, lasts_s)
    weight_g += np.random.default_rng(0).normal(0.0, 0.05, time_s.size)
    assert_sound(analyse(time_s, weight_g, method=method))


@settings(max_examples=150, deadline=None)
@given(
    steps_s=st.lists(STEPS_S, min_size=1, max_size=150),
    changes=st.lists(LIKELY_G, min_size=1, max_size=12),
    adds_up=st.booleans(),
    seed=st.integers(0, 2**16),
)
def test_readings_in_order_are_read_however_odd(
    steps_s: list[float], changes: list[float], adds_up: bool, seed: int
) -> None:
    """Repeated times, silences, jumps, constants: nothing raises but a weight that no scale shows."""
    drawn = np.random.default_rng(seed).choice(np.array(changes), len(steps_s))
    with np.errstate(invalid="ignore", over="ignore"):
        weight_g = np.cumsum(drawn) if adds_up else drawn
    try:
        brew = analyse(np.cumsum(steps_s), weight_g)
    except ValueError as refusal:
        assert "ten tonnes" in str(refusal)
    else:
        assert_sound(brew)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.one_of(STEPS_S, ANY), st.one_of(LIKELY_G, ANY)), max_size=120))
def test_live_takes_whatever_comes(readings: list[tuple[float, float]]) -> None:
    live, now_s = LiveAnalysis(), 0.0
    for step_s, weight in readings:
        now_s += step_s if abs(step_s) < 1e6 else 0.0
        live.push(now_s if abs(step_s) < 1e6 else step_s, weight)
        assert np.isfinite([live.flow_g_s, live.poured_g, live.quiet_s]).all()
    live.finish()
    assert [pour.start_s for pour in live.pours] == sorted(pour.start_s for pour in live.pours)
    for pour in live.pours:
        assert_in_order(pour)


def simulated(seed: int, level: str) -> tuple[Floats, Floats]:
    return weights(simulate(PLANS[seed % len(PLANS)], seed, LEVELS[level]))


@settings(**SIMULATED)
@given(seed=st.integers(0, 10_000), level=st.sampled_from(list(LEVELS)))
def test_a_brew_is_sound(seed: int, level: str) -> None:
    assert_sound(analyse(*simulated(seed, level)))


@settings(**SIMULATED)
@given(
    seed=st.integers(0, 10_000),
    level=st.sampled_from(["water only", "easy", "medium"]),
    later_s=st.sampled_from([-1e3, 64.0, 4096.0, 1e6]),
)
def test_a_later_brew_is_the_same_brew(seed: int, level: str, later_s: float) -> None:
    time_s, weight_g = simulated(seed, level)
    here, there = analyse(time_s, weight_g), analyse(time_s + later_s, weight_g)
    assert len(here.pours) == len(there.pours)
    assert [event.kind for event in here.events] == [event.kind for event in there.events]
    for one, other in zip(here.pours, there.pours, strict=True):
        assert other.start_s - later_s == pytest.approx(one.start_s, abs=1e-3)
        assert other.end_s - later_s == pytest.approx(one.end_s, abs=1e-3)
        assert other.poured_g == pytest.approx(one.poured_g, abs=1e-2)


@settings(**SIMULATED)
@given(seed=st.integers(0, 10_000), more_g=st.integers(-9000, 9000))
def test_what_stands_on_the_pan_already_makes_no_difference(seed: int, more_g: int) -> None:
    """Without a tare, which zeroes everything, the weight of the vessel is nobody's business."""
    time_s, weight_g = simulated(seed, "water only")
    here, there = analyse(time_s, weight_g), analyse(time_s, np.round(weight_g + more_g, 1))
    assert len(here.pours) == len(there.pours)
    for one, other in zip(here.pours, there.pours, strict=True):
        assert (other.start_s, other.end_s) == pytest.approx((one.start_s, one.end_s), abs=1e-3)
        assert other.poured_g == pytest.approx(one.poured_g, abs=1e-3)


@settings(**SIMULATED)
@given(seed=st.integers(0, 10_000), level=st.sampled_from(["water only", "easy", "medium"]))
def test_no_water_is_made_or_lost(seed: int, level: str) -> None:
    """What the pours add up to is what landed, within a gram: drift and evaporation are in it."""
    brew = simulate(PLANS[seed % len(PLANS)], seed, LEVELS[level])
    assert analyse(*weights(brew)).total_g == pytest.approx(brew.truth.total_g, abs=1.0)

"""The exponential tail against its own formula, and what one scale tells of a drawdown."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from logger.curve import Analysis, Event, Pour, drawdown_by_one_scale
from logger.curve.bed.drawdown import fit_tail

NOTHING = np.zeros(0)
POURED = Pour(10.0, 30.0, 0.0, 120.0, 120.0, 6.0, 6.5)
BREW = Analysis("pour-over", 10.0, 30.0, 120.0, (POURED,), (), NOTHING, NOTHING, NOTHING, 0.0, 0.05, 0.1)


def tail(time_s: np.ndarray, tau_s: float, end_g: float = 200.0, free_g: float = 80.0) -> np.ndarray:
    return end_g - free_g * np.exp(-time_s / tau_s)


@pytest.mark.parametrize("tau_s", [2.0, 9.5, 18.0, 40.0])
@pytest.mark.parametrize("spans", [0.8, 2.0, 5.0])
def test_an_exponential_is_found_again(tau_s: float, spans: float) -> None:
    time_s = np.arange(0.0, spans * tau_s, 0.1)
    found = fit_tail(time_s, tail(time_s, tau_s), 0.001)
    assert found is not None
    assert found.tau_s == pytest.approx(tau_s, rel=1e-3)
    assert found.end_g == pytest.approx(200.0, abs=0.2)
    assert found.free_g == pytest.approx(80.0, abs=0.2)
    assert found.misfit_g < 0.01


def test_a_known_end_leaves_tau_alone_to_be_found() -> None:
    time_s = np.arange(0.0, 6.0, 0.1)
    found = fit_tail(time_s, tail(time_s, 18.0), 0.001, end_g=200.0)
    assert found is not None
    assert found.tau_s == pytest.approx(18.0, rel=1e-3)
    assert found.end_sd_g == 0.0


def test_it_agrees_with_a_general_least_squares_fit() -> None:
    """scipy.optimize.curve_fit on the same noisy values; ours is wider by drift and autocorrelation."""
    time_s = np.arange(0.0, 50.0, 0.1)
    values = tail(time_s, 17.0) + np.random.default_rng(5).normal(0.0, 0.2, time_s.size)
    found = fit_tail(time_s, values, 0.01)
    (end_g, free_g, tau_s), covariance = curve_fit(
        lambda at, end, free, tau: end - free * np.exp(-at / tau), time_s, values, p0=(190.0, 70.0, 10.0)
    )
    assert found is not None
    assert (found.end_g, found.free_g) == pytest.approx((end_g, free_g), abs=0.05)
    assert found.tau_s == pytest.approx(tau_s, rel=1e-3)
    assert found.tau_sd_s >= np.sqrt(covariance[2, 2]) * 0.99


def test_tau_lies_within_what_is_said_of_it() -> None:
    """Independent noise: two standard deviations hold 95 in 100; here at least nine in ten of thirty."""
    time_s, held = np.arange(0.0, 40.0, 0.2), 0
    for seed in range(30):
        values = tail(time_s, 15.0) + np.random.default_rng(seed).normal(0.0, 0.3, time_s.size)
        found = fit_tail(time_s, values, 0.3)
        assert found is not None
        held += abs(found.tau_s - 15.0) < 2.0 * found.tau_sd_s
    assert held >= 27


def test_the_flow_of_the_tail_falls_below_a_value_when_the_formula_says() -> None:
    time_s = np.arange(0.0, 60.0, 0.1)
    found = fit_tail(time_s, tail(time_s, 20.0), 0.001)
    assert found is not None
    # 80 / 20 = 4 g/s at first; 0.2 g/s after 20 ln(4 / 0.2) s, and 0.2 * 20 g are left by then
    dry_s = 20.0 * np.log(20.0)
    assert found.falls_below_s(0.2) == pytest.approx(dry_s, abs=0.1)
    assert found.left_g(dry_s) == pytest.approx(4.0, abs=0.02)
    assert found.falls_below_s(50.0) == 0.0


@pytest.mark.parametrize(
    "through",
    [np.zeros(50), np.linspace(0.0, 100.0, 50), np.linspace(5.0, 0.0, 50), np.exp(np.arange(50) / 9.0)],
)
def test_what_is_no_tail_is_none(through: np.ndarray) -> None:
    assert fit_tail(np.arange(50.0), through, 0.05) is None


@settings(max_examples=80, deadline=None)
@given(
    steps_s=st.lists(st.floats(1e-6, 1e4), max_size=60),
    values=st.lists(st.floats(-1e7, 1e7), min_size=60, max_size=60),
    end_g=st.one_of(st.none(), st.floats(-1e7, 1e7)),
)
def test_any_values_give_a_sound_tail_or_none(
    steps_s: list[float], values: list[float], end_g: float | None
) -> None:
    time_s = np.cumsum(steps_s)
    found = fit_tail(time_s, np.array(values[: time_s.size]), 0.05, end_g) if steps_s else None
    if found is not None:
        assert found.tau_s > 0.0
        assert found.tau_sd_s >= 0.0
        assert found.free_g > 0.0
        assert np.isfinite([found.tau_s, found.end_g, found.end_sd_g, found.free_g, found.misfit_g]).all()


def test_a_lift_bounds_the_end_and_says_so() -> None:
    lifted = replace(BREW, events=(Event("vessel-off", 95.0, 95.5, -300.0),))
    drawdown = drawdown_by_one_scale(lifted)
    assert drawdown is not None
    assert (drawdown.by, drawdown.at_latest, drawdown.dry_s, drawdown.lasts_s) == ("lift", True, 95.0, 65.0)


def test_the_brewers_mark_is_the_moment_itself() -> None:
    lifted = replace(BREW, events=(Event("vessel-off", 95.0, 95.5, -300.0),))
    drawdown = drawdown_by_one_scale(lifted, dry_s=82.0)
    assert drawdown is not None
    assert (drawdown.by, drawdown.at_latest, drawdown.dry_s) == ("mark", False, 82.0)


def test_serving_bounds_the_end() -> None:
    drawdown = drawdown_by_one_scale(BREW, served_s=99.0)
    assert drawdown is not None
    assert (drawdown.by, drawdown.at_latest, drawdown.dry_s) == ("mark", True, 99.0)


def test_where_nothing_says_it_the_end_cannot_be_told() -> None:
    drawdown = drawdown_by_one_scale(BREW)
    assert drawdown is not None
    assert drawdown.dry_s is None
    assert "nothing was lifted" in drawdown.why


def test_a_lift_before_the_last_water_is_no_end() -> None:
    lifted = replace(BREW, events=(Event("vessel-off", 22.0, 22.5, -300.0),))
    drawdown = drawdown_by_one_scale(lifted, dry_s=12.0)
    assert drawdown is not None
    assert drawdown.dry_s is None


def test_only_a_pour_over_draws_down() -> None:
    assert drawdown_by_one_scale(replace(BREW, method="espresso")) is None
    assert drawdown_by_one_scale(replace(BREW, pours=(), method=None)) is None

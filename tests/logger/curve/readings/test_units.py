"""A display that is switched to another unit in mid-brew, and what only looks like it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.curve.readings.timebase import Samples, samples_from
from logger.curve.readings.units import GRAMS_IN, in_one_unit
from tests.benchmarks.curve_suite import THREE_POURS, Floats
from tests.logger.curve.staged import assert_pours, kinds, read, staged

OUNCE_G, POUND_G, KILOGRAM_G = 28.349523125, 453.59237, 1000.0
"""NIST Special Publication 811, appendix B.8."""
SHOWN_TO = {OUNCE_G: 3, POUND_G: 4, KILOGRAM_G: 4}
NAMED = pytest.mark.parametrize("unit_g", SHOWN_TO, ids=["oz", "lb", "kg"])

TIME_S = np.arange(0.0, 60.0, 0.1)
POURED_G = 250.0 + 6.0 * np.clip(TIME_S - 5.0, 0.0, 10.0)


def samples(weight_g: Floats, time_s: Floats = TIME_S) -> Samples:
    return samples_from(time_s, weight_g)


def switched(weight_g: Floats, unit_g: float, since: int, until: int | None = None) -> Floats:
    """Show the readings from one to another in another unit, with as many decimals as displays have."""
    shown = weight_g.copy()
    shown[since:until] = np.round(weight_g[since:until] / unit_g, SHOWN_TO[unit_g])
    return shown


@NAMED
@pytest.mark.parametrize("since", [30, 90, 300], ids=["before", "in the pour", "after"])
def test_a_switch_is_taken_back_and_said(unit_g: float, since: int) -> None:
    taken, events = in_one_unit(samples(switched(POURED_G, unit_g, since)))
    assert taken.weight_g == pytest.approx(POURED_G, abs=0.55 * unit_g * 10.0 ** -SHOWN_TO[unit_g])
    (event,) = events
    assert event.kind == "unit"
    assert (event.start_s, event.end_s) == pytest.approx((TIME_S[since - 1], TIME_S[since]))
    assert event.change_g == pytest.approx(POURED_G[since] / unit_g - POURED_G[since - 1], abs=1e-3)


@NAMED
def test_there_and_back_are_two_switches(unit_g: float) -> None:
    taken, events = in_one_unit(samples(switched(POURED_G, unit_g, 200, 400)))
    assert len(events) == 2
    assert taken.weight_g == pytest.approx(POURED_G, abs=0.1)
    assert (taken.weight_g[400:] == POURED_G[400:]).all()


def test_a_brew_whose_display_went_to_ounces_and_back_is_read_as_ever() -> None:
    """The vessel has 300 g, so that there is something to show when the display is switched."""
    time_s, weight_g, truth = staged(THREE_POURS)
    since, until = np.searchsorted(time_s, [truth.pours[0].end_s + 5.0, truth.pours[1].end_s + 4.0])
    found = read(time_s, switched(weight_g + 300.0, OUNCE_G, int(since), int(until)))
    assert kinds(found).count("unit") == 2
    assert_pours(found, truth, grams=0.06)


def test_a_vessel_that_is_lifted_to_an_ounces_share_of_its_weight_is_no_switch() -> None:
    """What is left is 1/28.35 of it, but the scale comes down to that through its lag of 0.3 s."""
    left = POURED_G[-1] / OUNCE_G + (POURED_G[-1] * (1.0 - 1.0 / OUNCE_G)) * np.exp(
        -np.maximum(TIME_S - 40.0, 0.0) / 0.3
    )
    weight_g = np.where(TIME_S < 40.0, POURED_G, left)
    given_, events = in_one_unit(samples(weight_g))
    assert events == ()
    assert (given_.weight_g == samples(weight_g).weight_g).all()


def test_a_dose_that_is_tared_to_about_nothing_is_no_switch_to_pounds() -> None:
    """24.4 g to 0.05, 23 g in pounds; but then the reading settles, by many grams if it were that."""
    weight_g = np.where(TIME_S < 40.0, 24.4, 0.05)
    weight_g[404:] = -0.02
    _, events = in_one_unit(samples(weight_g))
    assert events == ()


@pytest.mark.parametrize("to_g", [0.0, -310.0, 5.0, 600.0])
def test_a_jump_by_another_ratio_is_no_switch(to_g: float) -> None:
    weight_g = np.where(TIME_S < 40.0, POURED_G, to_g)
    _, events = in_one_unit(samples(weight_g))
    assert events == ()


def test_a_coarse_display_that_a_tare_leaves_at_a_gram_shows_no_ounces() -> None:
    """29 g of coffee, seen through the lag, are tared a little early; the rest of it is shown as 1 g."""
    coarse = np.where(TIME_S < 20.0, 29.0, 1.0)
    taken, events = in_one_unit(samples(coarse))
    assert not events
    assert (taken.weight_g == coarse).all()


def test_with_next_to_nothing_on_the_pan_any_jump_is_left_alone() -> None:
    _, events = in_one_unit(samples(switched(np.full(TIME_S.size, 16.0), OUNCE_G, 300)))
    assert events == ()


@settings(max_examples=150, deadline=None)
@given(
    steps=st.lists(st.floats(-14.9, 14.9), min_size=1, max_size=200),
    from_g=st.floats(-500.0, 2000.0),
)
def test_without_a_jump_nothing_is_changed(steps: list[float], from_g: float) -> None:
    weight_g = from_g + np.cumsum(steps)
    given_ = samples(weight_g, 0.1 * np.arange(weight_g.size))
    taken, events = in_one_unit(given_)
    assert taken is given_
    assert events == ()


@settings(max_examples=150, deadline=None)
@given(
    levels=st.lists(st.floats(-2000.0, 2000.0), min_size=1, max_size=8),
    each=st.integers(1, 20),
)
def test_only_a_jump_by_the_ratio_of_two_units_is_a_switch(levels: list[float], each: int) -> None:
    """Whatever the display jumps to: what is called a switch is one, and nothing else is touched."""
    weight_g = np.repeat(levels, each)
    given_ = samples(weight_g, 0.1 * np.arange(weight_g.size))
    taken, events = in_one_unit(given_)
    assert taken.weight_g.shape == given_.weight_g.shape
    if not events:
        assert (taken.weight_g == given_.weight_g).all()
        return
    first = int(np.searchsorted(given_.time_s, events[0].end_s))
    assert (taken.weight_g[:first] == given_.weight_g[:first]).all()
    factors = taken.weight_g[given_.weight_g != 0.0] / given_.weight_g[given_.weight_g != 0.0]
    assert all(np.isclose(factor, GRAMS_IN).any() for factor in factors)
    before_g = taken.weight_g[first - 1]
    assert taken.weight_g[first] == pytest.approx(before_g, rel=0.1)

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.compare import Brew
from logger.show.curves.thinning import brew_curves, broken_at_silence, thinned


@given(st.integers(0, 20_000), st.integers(20, 2_000), st.integers(0, 2**32 - 1))
def test_thinning_keeps_the_ends_the_peak_and_the_lowest_point(count: int, most: int, seed: int) -> None:
    values = np.random.default_rng(seed).normal(size=count)
    time_s = np.arange(count, dtype=np.float64)
    thin_s, thin = thinned(time_s, values, most)
    assert len(thin_s) <= most
    assert np.all(np.diff(thin_s) > 0)
    assert np.array_equal(values[thin_s.astype(int)], thin)
    if count:
        assert (thin_s[0], thin_s[-1]) == (0, count - 1)
        assert (thin.max(), thin.min()) == (values.max(), values.min())


def test_thinning_does_not_close_a_gap() -> None:
    values = np.ones(10_000)
    values[4_000:4_500] = np.nan
    thin_s, thin = thinned(np.arange(10_000.0), values, 300)
    inside = (thin_s > 4_030) & (thin_s < 4_470)
    assert inside.any()
    assert np.isnan(thin[inside]).all()


def test_a_gap_in_the_recording_is_not_drawn_over(brew: Brew) -> None:
    time_s, weight_g, flow_g_s = brew_curves(brew.analysis)
    in_gap = (time_s > 98.1) & (time_s < 103.4)
    assert np.isnan(weight_g[in_gap]).all()
    assert np.isnan(flow_g_s[in_gap]).all()
    assert not np.isnan(weight_g[~((time_s >= 98.0) & (time_s <= 103.5))]).any()


def test_a_thermometer_that_fell_silent_breaks_its_line() -> None:
    time_s = np.array([0.0, 1.0, 2.0, 30.0, 31.0])
    drawn_s, drawn_c = broken_at_silence(time_s, np.full(5, 92.0))
    assert drawn_s.tolist() == [0.0, 1.0, 2.0, 16.0, 30.0, 31.0]
    assert np.flatnonzero(np.isnan(drawn_c)).tolist() == [3]


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_readings_have_no_usual_interval(count: int) -> None:
    time_s = np.array([0.0, 500.0])[:count]
    assert broken_at_silence(time_s, time_s)[0].tolist() == time_s.tolist()

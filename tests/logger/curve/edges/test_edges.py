"""Edges that are found again."""

import numpy as np
import pytest

from logger.curve.edges.edge import (
    MOST_SAMPLES,
    TELLING_RAMPS_S,
    Edge,
    fit_edge,
    fit_edges,
    misfits_g2,
    still_to_come_g,
    thinned,
)
from logger.curve.edges.edge_misfits import Window
from logger.curve.edges.shapes import Response, end_shape, start_shape


@pytest.mark.parametrize("response", [Response(0.0), Response(0.3), Response(0.25, 2)], ids=str)
@pytest.mark.parametrize("is_start", [True, False], ids=["start", "end"])
def test_an_edge_is_found_again_through_noise(response: Response, is_start: bool) -> None:
    """0.05 g of noise at 10 Hz, 6 g/s: half of the edges within 0.01 s, the others within 0.15 s.

    Those are the ones whose ramp is taken for the next shorter one. Measured: 0.004 s, 0.125 s.
    """
    time_s = np.arange(0.0, 8.0, 0.1)
    shape = start_shape if is_start else end_shape
    off_s = []
    for seed in range(20):
        noise_g = np.random.default_rng(seed).normal(0.0, 0.05, time_s.size)
        display_g = 31.0 + 6.0 * shape(time_s - 4.03, np.array(0.4), response) + noise_g
        edge = fit_edge(time_s, display_g, np.arange(2.0, 6.0, 0.05), response, is_start=is_start)
        off_s.append(edge.time_s - 4.03)
        assert edge.flow_g_s == pytest.approx(6.0, abs=0.03)
        assert edge.level_g == pytest.approx(31.0, abs=0.03)
        # Two neighbours are taken as one, so that half of the noise's variance is left, and what the next
        # ramp that was tried leaves.
        assert edge.misfit_g2 == pytest.approx(0.5 * 0.05**2, rel=0.7)
    assert np.median(np.abs(off_s)) < 0.01
    assert np.abs(off_s).max() < 0.15


def test_a_flat_curve_has_no_edge_to_speak_of() -> None:
    time_s = np.arange(0.0, 8.0, 0.1)
    edge = fit_edge(time_s, np.full(80, 5.0), np.arange(2.0, 6.0, 0.05), Response(0.3), is_start=True)
    assert edge.flow_g_s == 0.0
    assert edge.level_g == pytest.approx(5.0)


@pytest.mark.parametrize("before_s", [1e-3, 2e-3, 5e-3])
def test_an_end_is_never_explained_by_one_sample_and_a_flow_that_nothing_has(before_s: float) -> None:
    """A shape that ends just after the first sample touches that one alone, and could explain it wholly."""
    time_s = 55.6035 + 0.1 * np.arange(55)
    response = Response(0.1)
    weight_g = np.round(180.0 + 10.0 * np.clip(time_s - 54.14, 0.0, 3.0), 1)
    candidates_s = np.arange(time_s[0] + before_s - 0.55, 59.075, 0.05)
    edge = fit_edge(time_s, weight_g, candidates_s, response, is_start=False)
    assert edge.time_s == pytest.approx(57.2, abs=0.1)
    assert edge.flow_g_s == pytest.approx(10.0, abs=0.1)


@pytest.mark.parametrize("is_start", [True, False], ids=["start", "end"])
def test_many_lags_at_once_fit_as_well_as_each_alone(is_start: bool) -> None:
    time_s, lags = np.arange(0.0, 6.0, 0.1), [Response(0.1), Response(0.35), Response(0.9), Response(0.3, 2)]
    shape = start_shape if is_start else end_shape
    noise_g = np.random.default_rng(8).normal(0.0, 0.05, time_s.size)
    display_g = 6.0 * shape(time_s - 3.02, np.array(0.4), Response(0.35)) + noise_g
    candidates_s = np.arange(1.5, 4.5, 0.1)
    together = misfits_g2([Window(time_s, display_g, candidates_s)], lags, is_start=is_start)[:, 0]
    how = {"is_start": is_start, "ramps_s": TELLING_RAMPS_S}
    alone = [fit_edge(time_s, display_g, candidates_s, lag, **how).misfit_g2 for lag in lags]
    # Together the lowest is read off a parabola, alone it is fitted once more there.
    assert together == pytest.approx(alone, rel=0.15)
    assert np.argmin(together) == 1


@pytest.mark.parametrize("is_start", [True, False], ids=["start", "end"])
def test_many_edges_at_once_are_fitted_as_each_alone(is_start: bool) -> None:
    """Windows of other lengths and rates, with more or fewer times to try."""
    drawn, shape = np.random.default_rng(3), start_shape if is_start else end_shape
    windows = []
    for rate_hz, lasts_s, from_s in ((10.0, 6.0, 1.5), (4.0, 5.0, 2.0), (20.0, 7.0, 1.0)):
        time_s = np.arange(0.0, lasts_s, 1.0 / rate_hz)
        noise_g = drawn.normal(0.0, 0.05, time_s.size)
        display_g = 200.0 + 6.0 * shape(time_s - 3.02, np.array(0.4), Response(0.35)) + noise_g
        windows.append(Window(time_s + 40.0, display_g, 40.0 + np.arange(from_s, 4.5, 0.1)))
    together = fit_edges(windows, Response(0.35), is_start=is_start)
    for window, edge in zip(windows, together, strict=True):
        alone = fit_edge(
            window.time_s, window.weight_g, window.candidates_s, Response(0.35), is_start=is_start
        )
        assert edge.time_s == pytest.approx(43.02, abs=0.2)
        assert [edge.time_s, edge.level_g, edge.flow_g_s] == pytest.approx(
            [alone.time_s, alone.level_g, alone.flow_g_s], abs=1e-6
        )


@pytest.mark.parametrize("is_start", [True, False], ids=["start", "end"])
def test_no_ramp_takes_longer_than_the_edge_it_is_fitted_to_may(is_start: bool) -> None:
    """The same slow edge twice, side by side: an espresso's, and a hand's, of 1.7 s at the most."""
    shape = start_shape if is_start else end_shape
    time_s, candidates_s = np.arange(0.0, 14.0, 0.1), np.arange(3.0, 11.0, 0.1)
    display_g = 2.0 * shape(time_s - (4.0 if is_start else 10.0), np.array(5.0), Response(0.35))
    windows = [Window(time_s, display_g, candidates_s), Window(time_s, display_g, candidates_s, 1.7)]
    espresso, hand = fit_edges(windows, Response(0.35), is_start=is_start, ramps_s=np.array([1.7, 5.0]))
    assert (espresso.ramp_s, hand.ramp_s) == (5.0, 1.7)
    alone = fit_edge(
        time_s, display_g, candidates_s, Response(0.35), is_start=is_start, ramps_s=np.array([1.7])
    )
    assert hand.time_s == pytest.approx(alone.time_s, abs=1e-6)


@pytest.mark.parametrize("response", [Response(0.3), Response(0.5, 2)], ids=str)
def test_what_a_slow_display_still_owes_is_what_was_poured_and_is_not_shown(response: Response) -> None:
    """Right after an end it owes most, a second later less, and long after it nothing."""
    end = Edge(10.0, 50.0, 5.0, 0.4, 0.0)
    time_s = np.array([10.0, 11.0, 25.0])
    owed_g = still_to_come_g(time_s, end, response)
    assert owed_g == pytest.approx(-5.0 * end_shape(time_s - 10.0, np.array(0.4), response))
    assert owed_g[0] > owed_g[1] > 0.01
    assert owed_g[2] == pytest.approx(0.0, abs=1e-6)


def test_nothing_is_owed_of_an_end_that_was_only_guessed() -> None:
    guessed = Edge(10.0, 50.0, 0.0, 0.0, float("inf"))
    assert still_to_come_g(np.array([11.0, 12.0]), guessed, Response(0.4)).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("first", range(4))
def test_samples_on_both_sides_of_a_hole_are_not_taken_together(first: int) -> None:
    """A weight that jumps within a silence of 2 s: no mean of what was before it and after it."""
    time_s = np.arange(0.0, 12.0, 0.05)[first:]
    time_s = time_s[(time_s < 5.0) | (time_s > 7.0)]
    thin_s, thin_g = thinned(time_s, np.where(time_s < 6.0, 10.0, 30.0))
    assert 0.5 * MOST_SAMPLES < thin_s.size < MOST_SAMPLES < time_s.size
    assert not ((thin_s > 5.0) & (thin_s < 7.0)).any()
    assert set(np.round(thin_g, 9)) == {10.0, 30.0}

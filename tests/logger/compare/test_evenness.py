"""Many brews of one target laid over each other."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from logger.compare import Brew, spread
from logger.compare.evenness import _quantile
from tests.logger.compare.brews import AS_PLANNED, analysis, compared, four_pours, the_shot


def practised(over_g: list[float], *, late_s: float = 0.0) -> list[Brew]:
    """Brews whose second pour ends over by so much; the last pour takes it back."""
    made = []
    for over in over_g:
        pours = ((0, 45), (45 + late_s, 55 + over), (75, 50 - over), (105, 100))
        made.append(compared(analysis(*pours, lifted_s=165.0), four_pours()))
    return made


def test_the_curves_lie_over_each_other_from_the_first_water() -> None:
    over_g = [-2.0, 0.0, 1.0, 4.0]
    laid = spread(practised(over_g), four_pours())
    at = int(np.searchsorted(laid.time_s, 70.0))
    # Numpy's own quantiles of the four weights at 1:10, between the second and the third pour.
    weights_g = 100 + np.array(over_g)
    assert laid.median_g[at] == pytest.approx(np.median(weights_g), abs=0.05)
    assert laid.low_quartile_g[at] == pytest.approx(np.quantile(weights_g, 0.25), abs=0.05)
    assert laid.high_quartile_g[at] == pytest.approx(np.quantile(weights_g, 0.75), abs=0.05)
    assert (laid.min_g[at], laid.max_g[at]) == pytest.approx((98, 104), abs=0.05)
    assert laid.n_at[at] == 4
    assert laid.weight_g.shape == (4, laid.time_s.size)


def test_a_gap_stays_a_gap_and_is_not_counted() -> None:
    brews = [compared(analysis(*AS_PLANNED, gaps=gaps), four_pours()) for gaps in ([(60.0, 65.0)], [])]
    laid = spread(brews, four_pours())
    inside = (laid.time_s > 60.05) & (laid.time_s < 64.95)
    assert np.isnan(laid.weight_g[0, inside]).all()
    assert (laid.n_at[inside] == 1).all()
    assert np.isfinite(laid.median_g[inside]).all()


def test_a_stage_is_given_with_mean_sd_n_and_how_many_were_inside() -> None:
    laid = spread(practised([-2.0, 0.0, 1.0, 4.0]), four_pours())
    weight = next(each for each in laid.stages[1].figures if each.quantity == "to_g")
    assert (weight.n, weight.n_inside, weight.wanted) == (4, 3, 100.0)
    assert weight.mean == pytest.approx(100.75)
    assert weight.sd == pytest.approx(np.std([-2, 0, 1, 4], ddof=1))


@pytest.mark.parametrize("n", range(8))
def test_fewer_than_eight_brews_are_never_called_even(n: int) -> None:
    laid = spread(practised([0.0] * n), four_pours())
    assert laid.enough is False
    assert not laid.verdict.lower().startswith("even")
    assert "too few" in laid.verdict or n == 0


def test_eight_good_brews_may_be_called_even() -> None:
    laid = spread(practised([0.3, -0.4, 0.1, 0.0, -0.2, 0.5, -0.1, 0.2]), four_pours())
    assert laid.enough is True
    assert laid.verdict.startswith("Even over 8 brews")
    assert laid.change == ""


def test_what_could_not_be_measured_is_not_called_even() -> None:
    laid = spread([compared(analysis(*AS_PLANNED), four_pours()) for _ in range(8)], four_pours())
    assert laid.verdict == "Even in what can be told; the brew, its end, could not be told in every brew."


def test_eight_brews_all_inside_are_not_even_when_the_next_may_well_miss() -> None:
    laid = spread(practised([2.9, -2.9, 2.5, -2.5, 2.8, -2.8, 2.7, -2.7]), four_pours())
    assert laid.stages[1].n_inside == 8
    assert laid.verdict.startswith(
        "Not even yet: pour 1, its weight, is inside in 8 of 8 brews; the next likely 94."
    )


def test_what_is_off_every_time_is_told_apart_from_what_varies() -> None:
    always = spread(practised([5.8, 6.1, 6.3, 5.9]), four_pours())
    assert always.change.startswith(
        "pour 1 ends 6.0 g heavy on average, outside in 4 of 4: stop pour 1 about 1.0 s (6.0 g) sooner."
    )
    varies = spread(practised([6.0, -6.0, 0.0, 3.0]), four_pours())
    assert varies.change.startswith("pour 1: its weight varies by 5.1 g (sd of 4 brews), outside in 2 of 4")


def test_a_stage_often_left_out_comes_first() -> None:
    short = [compared(analysis((0, 45), (75, 50), (105, 100)), four_pours()) for _ in range(3)]
    laid = spread([*short, *practised([0.0])], four_pours())
    assert (laid.stages[1].n, laid.stages[1].n_missing) == (4, 3)
    assert laid.change.startswith("pour 1 is missing or runs into another in 3 of 4 brews")


def test_shots_are_held_against_their_window() -> None:
    flows = [1.5, 1.55, 1.6, 1.62, 1.65, 1.68, 1.7, 1.58]
    brews = [compared(analysis((0, 36.0, flow), method="espresso"), the_shot()) for flow in flows]
    laid = spread(brews, the_shot())
    end = next(each for each in laid.whole if each.quantity == "end_s")
    assert end.limits == (17.0, 25.0)
    assert end.n_inside == 8
    # The first drip lies where the target expects it, in the middle of its window.
    assert laid.time_s[0] == 6.5


def test_recordings_without_a_brew_are_left_out() -> None:
    laid = spread([compared(analysis(), four_pours()), *practised([0.0])], four_pours())
    assert laid.n == 1


@given(arrays(np.float64, (5, 7), elements=st.floats(0, 300) | st.just(math.nan)), st.floats(0, 1))
def test_quantiles_are_numpys(weight_g: np.ndarray, share: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # numpy warns of columns without a number
        expected = np.nanquantile(weight_g, share, axis=0)
    assert _quantile(weight_g, share) == pytest.approx(expected, nan_ok=True)


@settings(deadline=None, max_examples=20)  # other work may share the processor
@given(st.lists(st.floats(-20, 20), max_size=10))
def test_any_set_of_brews_can_be_laid_over_each_other(over_g: list[float]) -> None:
    laid = spread(practised(over_g, late_s=1.0), four_pours())
    known = laid.n_at > 0
    assert known.any() == bool(over_g)
    for lower, upper in [
        (laid.min_g, laid.low_quartile_g),
        (laid.low_quartile_g, laid.median_g),
        (laid.median_g, laid.high_quartile_g),
        (laid.high_quartile_g, laid.max_g),
    ]:
        assert (lower[known] <= upper[known] + 1e-9).all()
    assert laid.verdict.endswith(".")

"""Which figures go with which taste: ranks, permutations, and the price of trying many."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import permutation_test, spearmanr

from logger.cup.patterns import cups_wanted, going_together, holm, least_cups, permutation_p


def _by_scipy(one: list[float], other: list[float]) -> float:
    def statistic(x: np.ndarray) -> float:
        return float(spearmanr(x, other).statistic)

    exact = permutation_test((one,), statistic, permutation_type="pairings", n_resamples=np.inf)
    return float(exact.pvalue)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ([1.0, 2.0, 3.0, 4.0, 5.0], [2.0, 1.0, 3.0, 5.0, 4.0]),
        ([1.31, 1.35, 1.28, 1.40, 1.33], [6.0, 7.0, 6.0, 8.0, 8.0]),
    ],
)
def test_p_is_that_of_all_orders(one: list[float], other: list[float]) -> None:
    told = permutation_p(one, other)
    assert told is not None
    assert told[0] == pytest.approx(spearmanr(one, other).statistic)
    assert told[1] == pytest.approx(_by_scipy(one, other), abs=1e-9)


def test_p_of_many_cups_is_near_scipys() -> None:
    rng = np.random.default_rng(5)
    one = rng.normal(size=20)
    other = 0.5 * one + rng.normal(size=20)
    told = permutation_p(one.tolist(), other.tolist())
    # spearmanr's own p-value by Student's t, good from about twenty.
    assert told is not None
    assert told[1] == pytest.approx(spearmanr(one, other).pvalue, abs=0.01)


def test_holm() -> None:
    # Holm 1979: sorted, times 4, 3, 2, 1, and never falling.
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm([0.9, 0.8]) == [1.0, 1.0]
    assert holm([]) == []


def test_with_few_cups_nothing_can_be_claimed() -> None:
    # Two of n! orders are the most extreme: 2/24 for four cups, 2/120 for five.
    assert least_cups(1) == 5
    assert 2 / math.factorial(least_cups(36)) <= 0.05 / 36 < 2 / math.factorial(least_cups(36) - 1)
    (pair,) = going_together({"strength": [1.2, 1.3, 1.4, 1.5]}, {"body": [5.0, 6.0, 7.0, 8.0]})
    assert pair.rho == pytest.approx(1.0) and pair.p == pytest.approx(2 / 24)
    assert not pair.is_claimed and pair.cups_more >= 1
    assert going_together({"strength": [1.2, 1.3, 1.4]}, {"body": [5.0, 6.0, 7.0]}) == ()


def test_what_goes_together_is_found_among_what_does_not() -> None:
    rng = np.random.default_rng(8)
    strength = rng.normal(1.3, 0.1, 24)
    figures = {"strength": strength.tolist(), "noise": rng.normal(size=24).tolist()}
    tastes = {"body": (10 * strength).tolist(), "acidity": rng.normal(size=24).tolist()}
    first, *others = going_together(figures, tastes)
    assert (first.figure, first.taste) == ("strength", "body")
    assert first.is_claimed and first.cups_more == 0
    assert not any(one.is_claimed for one in others)


def test_chance_alone_is_claimed_in_no_more_than_one_of_twenty_tables() -> None:
    rng = np.random.default_rng(2)
    claimed = 0
    for _ in range(200):
        figures = {str(n): rng.normal(size=7).tolist() for n in range(3)}
        tastes = {str(n): rng.normal(size=7).tolist() for n in range(3)}
        claimed += any(one.is_claimed for one in going_together(figures, tastes))
    # 200 tables at 5 %: fewer than 17 in 97.5 of 100 cases (binomial).
    assert claimed <= 17


def test_the_cups_wanted_do_find_it() -> None:
    """Simulated: as many cups as are said to be wanted tell a rank correlation of 0.7 in about four of five
    cases.
    """
    n = cups_wanted(0.7, 1)
    assert n is not None
    rng = np.random.default_rng(4)
    # A normal pair with Spearman's rho 0.7 has Pearson's 2 sin(pi rho / 6) (Pearson 1907).
    r = 2.0 * math.sin(math.pi * 0.7 / 6.0)
    found = 0
    for _ in range(400):
        one = rng.normal(size=n)
        other = r * one + math.sqrt(1 - r**2) * rng.normal(size=n)
        found += spearmanr(one, other).pvalue <= 0.05
    assert 0.7 < found / 400 < 0.9
    assert cups_wanted(0.0, 1) is None


def test_unknown_figures_and_even_tastes_are_left_out() -> None:
    assert going_together({"a": [1.0, None, 2.0, 3.0]}, {"b": [1.0, 2.0, 3.0, 4.0]}) == ()
    assert going_together({"a": [1.0, 2.0, 3.0, 4.0]}, {"b": [6.0] * 4}) == ()

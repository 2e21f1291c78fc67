from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from logger.compare.evenness_words import ENOUGH
from logger.compare.practice.tolerance_factor import howe_factor, tolerance_factor, tolerance_interval
from tests.logger.compare.practice.made_up import SETS, samples, tell


@pytest.mark.parametrize(
    ("n", "share", "k"),
    [(4, 0.90, 5.37), (5, 0.90, 4.29), (6, 0.90, 3.73), (8, 0.90, 3.16), (10, 0.90, 2.86), (20, 0.90, 2.32),
     (5, 0.95, 5.08), (10, 0.95, 3.39), (20, 0.95, 2.76), (10, 0.99, 4.44)],
)  # fmt: skip
def test_the_factor_is_that_of_the_table(n: int, share: float, k: float) -> None:
    # ISO 16269-6, as Berthouex and Brown, Statistics for Environmental Engineers, table 21.1 print it
    assert tolerance_factor(n, share, 0.95) == pytest.approx(k, abs=0.0051)


def test_the_handbooks_example() -> None:
    # NIST/SEMATECH e-Handbook, 7.2.6.3: 43 wafers, share 0.90, confidence 0.99: Howe's k2 is 2.2173
    assert howe_factor(43, 0.90, 0.99) == pytest.approx(2.2173, abs=1e-3)
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.2228, abs=1e-4)
    assert pytest.approx(97.0106, abs=1e-4) == 97.07 - 2.2173 * 0.0268


def test_the_factor_solves_its_own_integral() -> None:
    # The same probability by scipy's numbers, over another set of means.
    n, share = 7, 0.90
    k = tolerance_factor(n, share, 0.95)
    off = stats.norm.ppf((np.arange(4000) + 0.5) / 4000) / math.sqrt(n)
    half = np.array([stats.foldnorm.ppf(share, abs(each)) for each in off[::20]])
    held = stats.chi2.sf((n - 1) * (half / k) ** 2, n - 1).mean()
    assert held == pytest.approx(0.95, abs=1e-3)


@pytest.mark.parametrize("n", [5, 10, 30])
def test_such_an_interval_holds_nine_in_ten_as_often_as_it_says(n: int) -> None:
    k, hits = tolerance_factor(n), 0
    for values in samples(n, SETS, n):
        low, high = values.mean() + k * values.std(ddof=1) * np.array([-1, 1])
        hits += stats.norm.cdf(high) - stats.norm.cdf(low) >= 0.90
    tell(f"tolerance interval, n {n}: {hits / SETS}")
    assert abs(hits / SETS - 0.95) < 3.3 * math.sqrt(0.0475 / SETS)


@pytest.mark.parametrize(("n", "factor"), [(3, "8.3"), (5, "4.3")])
def test_few_brews_get_no_band_but_what_it_would_take(n: int, factor: str) -> None:
    told = tolerance_interval(np.arange(n, dtype=float), "g", ENOUGH)
    assert not told.tight
    assert math.isnan(told.low)
    assert f"mean ±{factor} sd" in told.says


def test_enough_brews_get_their_band() -> None:
    values = np.array([1.0, -1.0] * 5)
    told = tolerance_interval(values, "g", ENOUGH)
    assert told.tight
    assert (told.low, told.high) == pytest.approx(2.8563 * values.std(ddof=1) * np.array([-1, 1]), rel=1e-4)
    assert math.isnan(tolerance_interval(np.array([1.0]), "g", ENOUGH).factor)

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from logger.compare.practice.intervals import (
    c4,
    capability,
    likely_next,
    mean_estimate,
    sd_estimate,
    students_t,
    trend_estimate,
)
from tests.logger.compare.practice.made_up import SETS, covers, samples, tell

NIST_INDIVIDUALS = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])


def test_c4_is_that_of_the_table() -> None:
    # NIST/SEMATECH e-Handbook, 6.3.2.1 (ISO 7870-2 has the same), n from 2 to 10
    table = (0.7979, 0.8862, 0.9213, 0.9400, 0.9515, 0.9594, 0.9650, 0.9693, 0.9727)
    assert [c4(n) for n in range(2, 11)] == pytest.approx(table, abs=5e-5)


def test_the_corrected_deviation_is_right_on_average() -> None:
    found = [sd_estimate(values, "g").value for values in samples(4, 4000, 1)]
    assert np.mean(found) == pytest.approx(1.0, abs=0.02)


def test_mean_and_deviation_have_scipys_intervals() -> None:
    n, sd = NIST_INDIVIDUALS.size, NIST_INDIVIDUALS.std(ddof=1)
    mean = mean_estimate(NIST_INDIVIDUALS, "g")
    assert (mean.low, mean.high) == pytest.approx(
        stats.t.interval(0.9, n - 1, NIST_INDIVIDUALS.mean(), sd / math.sqrt(n))
    )
    spread = sd_estimate(NIST_INDIVIDUALS, "g")
    edges = [math.sqrt((n - 1) * sd**2 / stats.chi2.ppf(q, n - 1)) for q in (0.95, 0.05)]
    assert (spread.low, spread.high) == pytest.approx(edges)
    assert (mean.n, mean.unit, mean.confidence) == (10, "g", 0.9)


def test_the_likely_range_is_the_prediction_interval_of_the_textbook() -> None:
    mean, sd, n = NIST_INDIVIDUALS.mean(), NIST_INDIVIDUALS.std(ddof=1), NIST_INDIVIDUALS.size
    reach = stats.t.ppf(0.95, n - 1) * sd * math.sqrt(1 + 1 / n)
    assert likely_next(mean, sd, n) == pytest.approx((mean - reach, mean + reach))
    assert all(math.isnan(edge) for edge in likely_next(5.0, 1.0, 2))


@pytest.mark.parametrize("degrees", [1, 2, 7, 29, 200])
def test_students_t_is_scipys(degrees: int) -> None:
    assert students_t(degrees, 0.9) == pytest.approx(stats.t.ppf(0.95, degrees))


def test_the_trend_is_scipys_regression() -> None:
    order = np.array([0.0, 1.0, 2.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0])
    found, p = trend_estimate(NIST_INDIVIDUALS, order, "g per brew")
    line = stats.linregress(order, NIST_INDIVIDUALS)
    reach = stats.t.ppf(0.95, 8) * line.stderr
    assert (found.value, found.low, found.high) == pytest.approx(
        (line.slope, line.slope - reach, line.slope + reach)
    )
    assert p == pytest.approx(line.pvalue)


def test_capability_is_that_of_the_worked_example() -> None:
    # NIST/SEMATECH e-Handbook, 6.1.6 (from memory): limits 8 and 20, mean 16, s 2: Cp 1.0, Cpk 0.6667
    values = 16.0 + 2.0 * np.array([-1.0, 1.0, -1.0, 1.0, 0.0]) / np.std([-1, 1, -1, 1, 0], ddof=1)
    cp, cpk = capability(values, (8.0, 20.0))
    assert (cp.value, cpk.value) == pytest.approx((1.0, 2 / 3))


# The first 40 diameters of the piston rings that control-chart handbooks publish: Montgomery, Introduction to
# Statistical Quality Control, table 6.3 (samples 1 to 8), in mm; limits 74.000 +-0.05.
PISTON_RINGS = np.array(
    [74.030, 74.002, 74.019, 73.992, 74.008, 73.995, 73.992, 74.001, 74.011, 74.004, 73.988, 74.024, 74.021,
     74.005, 74.002, 74.002, 73.996, 73.993, 74.015, 74.009, 73.992, 74.007, 74.015, 73.989, 74.014, 74.009,
     73.994, 73.997, 73.985, 73.993, 73.995, 74.006, 73.994, 74.000, 74.005, 73.985, 74.003, 73.993, 74.015,
     73.988]
)  # fmt: skip


def test_capability_of_a_published_data_set() -> None:
    # Montgomery's Cp of all 25 samples, by the mean range: 1.66 at sigma 0.0099 (data and Cp from memory). Of
    # these 40 rings, by their standard deviation, the interval must hold that, and Bissell's approximate one
    # (1990; NIST 6.1.6) be near ours.
    cp, cpk = capability(PISTON_RINGS, (73.95, 74.05))
    assert cp.low < 1.66 < cp.high
    n = PISTON_RINGS.size
    reach = stats.norm.ppf(0.95) * math.sqrt(1 / (9 * n) + cpk.value**2 / (2 * (n - 1)))
    assert (cpk.low, cpk.high) == pytest.approx((cpk.value - reach, cpk.value + reach), rel=0.05)


def test_a_one_sided_cpk_has_the_exact_bound() -> None:
    # With the other limit far away Cpk's lower bound is a noncentral t's, as for one-sided tolerance factors.
    values = NIST_INDIVIDUALS
    n, over = values.size, (56.0 - values.mean()) / values.std(ddof=1)
    _, cpk = capability(values, (-1e4, 56.0))
    t = over * math.sqrt(n)
    assert stats.nct.sf(t, n - 1, 3 * cpk.low * math.sqrt(n)) == pytest.approx(0.05, abs=2e-3)


def test_too_few_values_have_no_interval() -> None:
    two = np.array([1.0, 2.0])
    for found in (mean_estimate(two, "g"), sd_estimate(two, "g"), *capability(two, (0.0, 3.0))):
        assert math.isfinite(found.value)
        assert not found.is_known
    assert math.isnan(mean_estimate(np.zeros(0), "g").value)


@pytest.mark.parametrize("n", [5, 10, 30])
def test_nine_in_ten_intervals_hold_the_truth(n: int) -> None:
    hits = dict.fromkeys(("mean", "sd", "slope", "cp", "next"), 0)
    order, generator = np.arange(n, dtype=float), np.random.default_rng(n)
    for values in samples(n, SETS, n):
        mean, spread = mean_estimate(values, "g"), sd_estimate(values, "g")
        slope, _ = trend_estimate(values + 0.3 * order, order, "g per brew")
        cp, _ = capability(values, (-2.0, 2.0))
        low, high = likely_next(values.mean(), values.std(ddof=1), n)
        hits["mean"] += mean.low <= 0 <= mean.high
        hits["sd"] += spread.low <= 1 <= spread.high
        hits["slope"] += slope.low <= 0.3 <= slope.high
        hits["cp"] += cp.low <= 2 / 3 <= cp.high
        hits["next"] += low <= generator.standard_normal() <= high
    tell(f"n {n}: { ({name: hit / SETS for name, hit in hits.items()}) }")
    assert all(covers(hit, SETS) for hit in hits.values()), hits


@pytest.mark.parametrize("n", [5, 10, 30])
@pytest.mark.parametrize(("mean", "sd"), [(0.0, 0.3), (0.0, 0.6), (0.2, 0.3), (0.5, 0.3), (0.9, 0.6)])
def test_cpks_interval_holds_the_truth(n: int, mean: float, sd: float) -> None:
    true = (1 - abs(mean)) / (3 * sd)
    sets = SETS if SETS >= 2000 else SETS // 2
    found = [capability(mean + sd * values, (-1.0, 1.0))[1] for values in samples(n, sets, 10 * n)]
    hits = sum(each.low <= true <= each.high for each in found)
    tell(f"Cpk, n {n}, mean {mean}, sd {sd}: {hits / sets}")
    assert covers(hits, sets)

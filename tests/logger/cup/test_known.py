"""Uncertainty carried through, held against the package ``uncertainties`` and the GUM's own example."""

from __future__ import annotations

import math

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from logger.cup import strength_of
from logger.cup.balance import percolated
from logger.cup.known import (
    Known,
    Source,
    combined,
    covariance,
    coverage_factor,
    rectangular,
    rounded_to,
)
from logger.recording.note_kinds import StrengthNote

positive = st.floats(0.5, 500.0)
small = st.floats(1e-3, 0.2)


def test_a_rectangle_and_a_step() -> None:
    # GUM 4.3.7: half-width a gives a / sqrt(3); F.2.2.1: a step gives 0.29 of it.
    assert rectangular(0.1) == pytest.approx(0.1 / math.sqrt(3))
    assert rounded_to(0.1) == pytest.approx(0.0289, abs=5e-5)


@given(values=st.tuples(positive, positive, positive), sds=st.tuples(small, small, small), shared=small)
def test_it_agrees_with_the_package_uncertainties(
    values: tuple[float, float, float], sds: tuple[float, float, float], shared: float
) -> None:
    """Three numbers, each with its own source, two of them with one more in common."""
    common = Source("common")
    ours = [
        Known(value, {Source("own"): sd * value}).plus(common, part)
        for value, sd, part in zip(values, sds, (shared, shared * 2.0, 0.0), strict=True)
    ]
    xi = uncertainties.ufloat(0.0, 1.0)
    theirs = [
        uncertainties.ufloat(value, sd * value) + part * xi
        for value, sd, part in zip(values, sds, (shared, shared * 2.0, 0.0), strict=True)
    ]
    mine, reference = combined(lambda a, b, c: a * b / c, *ours), theirs[0] * theirs[1] / theirs[2]
    assert mine.value == pytest.approx(reference.nominal_value)
    assert mine.sd == pytest.approx(reference.std_dev, rel=1e-4)
    matrix = uncertainties.covariance_matrix([theirs[0], theirs[1]])
    assert covariance(ours[0], ours[1]) == pytest.approx(matrix[0][1])


def test_what_two_weights_of_one_scale_share_drops_out_of_their_ratio() -> None:
    calibration = Source("calibration")
    beverage, dose = Known(240.0, {calibration: 0.24}), Known(15.0, {calibration: 0.015})
    assert combined(lambda b, d: b / d, beverage, dose).sd == pytest.approx(0.0, abs=1e-9)
    other = Known(15.0, {Source("another scale"): 0.015})
    assert combined(lambda b, d: b / d, beverage, other).sd == pytest.approx(
        16.0 * 0.001 * math.sqrt(2.0), rel=1e-6
    )


def test_few_readings_make_a_wide_interval() -> None:
    # Student's t for 95 %: 12.706 with one degree of freedom, 2.776 with four (GUM table G.2).
    assert coverage_factor(1) == pytest.approx(12.706, abs=5e-4)
    assert coverage_factor(4) == pytest.approx(2.776, abs=5e-4)
    assert coverage_factor(math.inf) == pytest.approx(1.960, abs=5e-4)
    pair = Known(1.35, {Source("scatter", dof=1.0): 0.02})
    assert pair.give_or_take == pytest.approx(12.706 * 0.02, rel=1e-4)


def test_effective_degrees_of_freedom() -> None:
    # GUM H.1.6, the end gauge: 32 nm with 16 effective degrees of freedom (16.7, rounded down).
    parts = {
        Source("standard", dof=18.0): 25.0,
        Source("comparator", dof=25.6): 9.7,
        Source("expansion", dof=50.0): 2.9,
        Source("temperature", dof=2.0): 16.6,
    }
    known = Known(838.0, parts)
    assert known.sd == pytest.approx(32.0, abs=0.5)
    assert int(known.dof) == 16


def test_what_brings_the_doubt_is_told() -> None:
    known = Known(1.0, {Source("reading"): 0.3, Source("scale"): 0.4})
    assert known.share_of("scale") == pytest.approx(0.64)
    assert known.share_of("nobody") == 0.0
    assert Known(1.0).share_of("scale") == 0.0


def test_the_first_order_is_enough_for_an_extraction() -> None:
    """Held against a simulation of the same doubt, as the GUM's first supplement (JCGM 101:2008) does."""
    rng = np.random.default_rng(7)
    n = 200_000
    strength = 1.35 + rng.uniform(-0.03, 0.03, n)
    beverage, dose = 240.0 + rng.uniform(-0.5, 0.5, n), 15.0 + rng.uniform(-0.05, 0.05, n)
    simulated = strength * beverage / dose
    known = combined(
        percolated,
        Known(1.35, {Source("instrument"): rectangular(0.03)}),
        Known(240.0, {Source("scale"): rectangular(0.5)}),
        Known(15.0, {Source("dose scale"): rectangular(0.05)}),
    )
    assert known.sd == pytest.approx(simulated.std(), rel=0.01)
    covered = np.mean(np.abs(simulated - known.value) <= known.give_or_take)
    assert 0.94 < covered < 1.0


@pytest.mark.parametrize("n", [2, 3, 5])
def test_the_interval_of_a_few_readings_holds_the_truth_in_95_of_100(n: int) -> None:
    rng = np.random.default_rng(n)
    held = 0
    for readings in rng.normal(1.35, 0.02, (2000, n)):
        known = strength_of(StrengthNote(tuple(readings.tolist()), step=1e-6, accuracy=0.0))
        held += abs(known.value - 1.35) <= known.give_or_take
    # 2,000 cases at 95 %: 93.6 to 96.4 % in 99.7 of 100 (binomial).
    assert 0.935 < held / 2000 < 0.965

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.sensors import LoadCell, fit_load_cell

# NIST Statistical Reference Datasets, Norris (y, x): calibration of ozone monitors, here counts and grams.
# Certified: intercept -0.262323073774029, slope 1.00211681802045, residual deviation 0.884796396144373.
NORRIS = [
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5),
    (668.5, 666.3), (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4),
    (0.1, 0.6), (778.1, 775.5), (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6),
    (557.7, 556.0), (228.3, 228.1), (998.0, 995.8), (888.8, 887.6), (119.6, 120.2), (0.3, 0.3),
    (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2), (998.5, 999.0), (778.9, 779.0),
    (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9), (0.2, 0.5),
]  # fmt: skip


def test_the_certified_line():
    fit = fit_load_cell(NORRIS)
    assert fit.cell.zero_counts == pytest.approx(-0.262323073774029, rel=1e-12)
    assert fit.cell.counts_per_g == pytest.approx(1.00211681802045, rel=1e-13)
    squares = math.fsum(residual**2 for residual in fit.residuals_g)
    deviation = math.sqrt(squares / (len(NORRIS) - 2)) * fit.cell.counts_per_g
    assert deviation == pytest.approx(0.884796396144373, rel=1e-11)
    assert fit.worst_g == max(abs(residual) for residual in fit.residuals_g)


def test_zero_and_counts_per_gram():
    cell = LoadCell(zero_counts=84_213, counts_per_g=1_032.5)
    assert cell.grams(84_213) == 0.0
    assert cell.grams(84_213 + 1_032.5 * 250) == 250.0
    assert cell.step_g == pytest.approx(0.000968523, rel=1e-6)


def test_a_cell_mounted_the_other_way_round():
    cell = LoadCell(1000, -10)
    assert cell.grams(0) == 100.0
    assert cell.step_g == 0.1


def test_two_points_leave_nothing_over():
    fit = fit_load_cell([(8_400, 0.0), (108_400, 200.0)])
    assert fit.cell.counts_per_g == 500.0
    assert fit.cell.zero_counts == pytest.approx(8_400)
    assert fit.residuals_g == pytest.approx((0.0, 0.0), abs=1e-9)


def test_a_bent_line_shows_in_its_residuals():
    # 0, 100, 200 g with 0.1 g too little in the middle: the line halves it and gives each end a share
    fit = fit_load_cell([(0, 0.0), (99_900, 100.0), (200_000, 200.0)])
    assert fit.residuals_g == pytest.approx((1 / 30, -2 / 30, 1 / 30), abs=1e-4)
    assert fit.worst_g == pytest.approx(2 / 30, abs=1e-4)


@given(
    st.floats(-1e6, 1e6),
    st.floats(0.5, 1e5),
    st.booleans(),
    st.lists(st.integers(0, 2000), min_size=2, max_size=8, unique=True),
)
def test_points_of_a_line_give_back_the_line(zero, slope, turned, weights):
    slope = -slope if turned else slope
    fit = fit_load_cell([(zero + slope * weight, float(weight)) for weight in weights])
    assert fit.cell.grams(zero + slope * 1234) == pytest.approx(1234, abs=1e-3)
    assert fit.worst_g < 1e-4


@pytest.mark.parametrize("counts", [-8_388_608, 8_388_607, 1e300, math.inf, -math.inf])
def test_a_converter_at_its_end_gives_no_weight(counts):
    # 24-bit converters stay at their extreme codes when the cell is overloaded or a wire is off
    cell = LoadCell(84_213, 1_032.5, low_counts=-8_388_608, high_counts=8_388_607)
    with pytest.raises(ValueError, match="end of the converter's range"):
        cell.grams(counts)


def test_without_known_limits_infinity_is_still_no_weight():
    with pytest.raises(ValueError, match="range"):
        LoadCell(0, 1).grams(math.inf)


@pytest.mark.parametrize(
    ("zero", "slope", "low", "high"),
    [
        (0, 0, -math.inf, math.inf),
        (math.nan, 1, -math.inf, math.inf),
        (0, math.inf, -math.inf, math.inf),
        (0, math.nan, -math.inf, math.inf),
        (0, 1, 1, 10),
        (0, 1, math.nan, 10),
    ],
)
def test_impossible_cells(zero, slope, low, high):
    with pytest.raises(ValueError, match="zero"):
        LoadCell(zero, slope, low, high)


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([], "two different weights"),
        ([(1, 0.0)], "two different weights"),
        ([(1, 5.0), (2, 5.0)], "two different weights"),
        ([(1, 0.0), (math.nan, 5.0)], "not a number"),
        ([(7, 0.0), (7, 5.0)], "no scale"),
    ],
)
def test_points_that_no_line_goes_through(points, why):
    with pytest.raises(ValueError, match=why):
        fit_load_cell(points)


def test_a_missing_signal_stays_missing():
    assert math.isnan(LoadCell(0, 1).grams(math.nan))

"""A recording that nobody here made: see tests/data/membrane_load_cells/SOURCE.md.

Water trickles into a vessel on a load cell at 1 Hz, 0.36 g/s for minutes; after two minutes somebody leans on
it, lets go, and takes 15 g away.
"""

import csv
from datetime import time as clock
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from logger.curve import LiveAnalysis, analyse
from logger.curve.pours.flow import slope_g_s
from logger.curve.readings.timebase import grid_of, samples_from
from tests.benchmarks.curve_suite import Floats

DATA = Path(__file__).parents[2] / "data" / "membrane_load_cells"
TOUCHED_S = 128.0


@pytest.fixture(scope="module")
def trickle() -> tuple[Floats, Floats]:
    with (DATA / "time_of_day.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    clocks = [clock.fromisoformat(row["Time"]) for row in rows]
    time_s = np.array([3600.0 * at.hour + 60.0 * at.minute + at.second for at in clocks])
    return time_s - time_s[0], np.array([float(row["Weight"]) for row in rows])


def test_its_clock_repeats_and_skips_seconds(trickle: tuple[Floats, Floats]) -> None:
    steps_s = np.diff(trickle[0])
    assert set(steps_s) == {0.0, 1.0, 2.0}


def test_its_flow_is_the_slope_of_the_line_through_it(trickle: tuple[Floats, Floats]) -> None:
    """scipy.stats.linregress through the same readings, 0.37 g/s; within 0.01 g/s."""
    grid = grid_of(samples_from(*trickle))
    half = 50
    slope = slope_g_s(grid.weight_g, half, grid.step_s)
    for middle_s in (55, 65, 75):
        near = np.abs(trickle[0] - middle_s) <= half
        line = stats.linregress(trickle[0][near], trickle[1][near])
        assert np.interp(middle_s, grid.time_s, slope) == pytest.approx(line.slope, abs=0.01)


def test_a_trickle_thinner_than_any_pour_is_no_brew(trickle: tuple[Floats, Floats]) -> None:
    """Half a gram a second counts as a pour, less is drawdown, drift or somebody else's experiment."""
    before = trickle[0] < TOUCHED_S - 2.0
    brew = analyse(trickle[0][before], trickle[1][before])
    assert brew.pours == ()
    assert brew.events == ()
    assert brew.method is None


def test_leaning_on_the_vessel_is_an_event_and_no_pour_of_its_own(trickle: tuple[Floats, Floats]) -> None:
    """Sixty grams up and down within fifteen seconds; the trickle may pass for water beside them."""
    brew = analyse(*trickle)
    touched = [event for event in brew.events if event.start_s < TOUCHED_S + 15.0 and event.end_s > TOUCHED_S]
    assert touched
    assert {event.kind for event in touched} <= {"knock", "stir", "vessel-on", "vessel-off", "drift"}
    assert all(not (TOUCHED_S < pour.start_s < TOUCHED_S + 10.0) for pour in brew.pours)


def test_live_takes_it_without_complaint(trickle: tuple[Floats, Floats]) -> None:
    live = LiveAnalysis()
    for now_s, weight in zip(*trickle, strict=True):
        live.push(float(now_s), float(weight))
    assert all(np.isfinite(pour.poured_g) for pour in live.pours)

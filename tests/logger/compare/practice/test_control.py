from __future__ import annotations

import numpy as np
import pytest

from logger.compare.practice.control import D2, control_chart


def test_the_handbooks_chart_of_individuals() -> None:
    # NIST/SEMATECH e-Handbook, 6.3.2.2: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159
    values = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    chart = control_chart(values, range(10), "g")
    assert chart.centre == pytest.approx(50.81)
    assert chart.sigma * D2 == pytest.approx(1.8778, abs=1e-4)
    assert (chart.high, chart.low) == pytest.approx((55.8041, 45.8159), abs=2e-3)
    assert chart.signals == ()


def test_d2_is_the_mean_range_of_two() -> None:
    # 2 / sqrt(pi) = 1.128, as in every table of control-chart constants (ISO 7870-2)
    assert pytest.approx(2 / np.sqrt(np.pi), abs=5e-4) == D2


def quiet(*last: float) -> np.ndarray:
    """A quiet process with sigma 1 and mean 0, and then what happens."""
    before = np.tile([0.564, -0.564], 60)
    return np.concatenate((before, last))


def speaks(values: np.ndarray) -> list[tuple[str, int, bool]]:
    chart = control_chart(values, range(values.size), "s")
    return [(one.rule, one.brew, one.above) for one in chart.signals if one.brew >= 120]


@pytest.mark.parametrize(
    ("last", "rule", "above"),
    [
        ((4.0,), "beyond 3 sigma", True),
        ((-4.0,), "beyond 3 sigma", False),
        ((2.5, 0.2, 2.5), "2 of 3 beyond 2 sigma", True),
        ((-1.5, -1.5, 0.3, -1.5, -1.5), "4 of 5 beyond 1 sigma", False),
        ((0.5,) * 9, "8 in a row on one side", True),
    ],
)
def test_every_run_rule_speaks_at_the_point_that_completes_it(
    last: tuple[float, ...], rule: str, above: bool
) -> None:
    said = speaks(quiet(*last))
    assert (rule, 119 + len(last), above) in said


def test_a_quiet_process_says_nothing() -> None:
    assert control_chart(quiet(), range(120), "s").signals == ()
    assert control_chart(np.full(9, 3.0), range(9), "s").signals == ()


def test_with_all_rules_chance_speaks_once_in_about_ninety_points() -> None:
    # NIST/SEMATECH e-Handbook, 6.3.2: with the Western Electric rules a false alarm every 91.75 points
    generator, points, false_alarms = np.random.default_rng(5), 0, 0
    for _ in range(80):
        signals = control_chart(generator.standard_normal(800), range(800), "s").signals
        first = signals[0].brew + 1 if signals else 800
        points, false_alarms = points + first, false_alarms + bool(signals)
    # about 80 runs, whose lengths scatter about as much as their mean
    assert points / false_alarms == pytest.approx(91.75, rel=0.33)

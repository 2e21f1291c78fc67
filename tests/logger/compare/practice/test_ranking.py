from __future__ import annotations

import numpy as np
import pytest

from logger.compare.practice.causes import find_causes
from logger.compare.practice.gains import gains_of, moved
from tests.logger.compare.practice.made_up import (
    OWN,
    SETS,
    TO_G,
    TOLERANCES,
    Brewer,
    best_fix,
    pour_columns,
    tell,
    with_one_fault,
)

COLUMNS = pour_columns()
AT = {(column.stage, column.quantity): number for number, column in enumerate(COLUMNS)}
WANTED = np.array([column.wanted for column in COLUMNS])
HALF = np.array([TOLERANCES[column.quantity] for column in COLUMNS])
ALL = np.ones(len(COLUMNS), dtype=bool)


def steady(**changes: float) -> Brewer:
    """One who varies by a tenth of the tolerances."""
    sd = {(number, quantity): 0.1 * TOLERANCES[quantity] for number in range(4) for quantity in OWN}
    return Brewer({}, sd, **changes)


def test_a_late_start_is_one_cause_and_not_three() -> None:
    late = steady(carry=1.0)
    late.bias[1, "start_s"] = 4.0
    late.sd[1, "start_s"] = 2.0
    causes = find_causes(COLUMNS, late.brew(20, np.random.default_rng(1)))
    assert causes.own_mean[AT[1, "start_s"]] == pytest.approx(4.0, abs=1.5)
    for number in (2, 3):
        assert abs(causes.own_mean[AT[number, "start_s"]]) < 0.5
        assert causes.total[AT[number, "start_s"], AT[1, "start_s"]] > 0.8


def test_without_a_habit_of_carrying_over_nothing_is_laid_on_the_pour_before() -> None:
    causes = find_causes(COLUMNS, steady().brew(20, np.random.default_rng(2)))
    assert causes.carried[AT[2, "start_s"], AT[1, "start_s"]] < 0.5
    assert causes.carried[AT[2, "to_g"], AT[1, "to_g"]] < 0.5


def test_an_end_follows_from_start_weight_and_flow() -> None:
    brewer = steady()
    brewer.bias[2, "to_g"] = 6.0
    causes = find_causes(COLUMNS, brewer.brew(12, np.random.default_rng(3)))
    end, weight = AT[2, "end_s"], AT[2, "to_g"]
    # 6 g more at 6 g/s: a second later, and no fault of the end's own
    assert causes.total[end, weight] == pytest.approx(1 / 6, rel=0.1)
    assert abs(causes.own_mean[end]) < 0.1
    assert causes.own_sd[end] < 0.05


def test_the_gain_is_what_truly_would_be() -> None:
    brewer = steady(carry=0.9)
    brewer.bias[1, "to_g"] = 3.0
    values = brewer.brew(400, np.random.default_rng(4))
    gains = gains_of(find_causes(COLUMNS, values), values.mean(axis=0) - WANTED, HALF, ALL)
    put_right = Brewer({}, brewer.sd, brewer.carry)
    assert gains.now == pytest.approx(brewer.share_inside(5), abs=0.05)
    assert gains.mean[AT[1, "to_g"]] == pytest.approx(put_right.share_inside(5), abs=0.02)


def test_a_mean_at_the_edge_is_not_taken_for_a_wide_spread() -> None:
    brewer = steady()
    brewer.bias[3, "flow_g_s"] = 1.45
    values = brewer.brew(20, np.random.default_rng(6))
    gains = gains_of(find_causes(COLUMNS, values), values.mean(axis=0) - WANTED, HALF, ALL)
    assert gains.best == AT[3, "flow_g_s"]
    assert gains.spread[AT[3, "flow_g_s"]] == gains.now


def test_a_gain_moves_another_probability_alike() -> None:
    assert moved(0.5, 0.3, 0.3) == pytest.approx(0.5)
    assert moved(0.3, 0.3, 0.9) == pytest.approx(0.9)
    assert 0.9 < moved(0.95, 0.3, 0.9) < 1.0


@pytest.mark.parametrize("n", [20])
def test_the_first_fix_is_the_true_largest_cause(n: int) -> None:
    generator, hits, sets = np.random.default_rng(7), 0, SETS // 2
    for seed in range(sets):
        brewer, _, _ = with_one_fault(generator)
        true, _ = best_fix(brewer, seed)
        values = brewer.brew(n, generator)
        best = gains_of(find_causes(COLUMNS, values), values.mean(axis=0) - WANTED, HALF, ALL).best
        column = COLUMNS[best % len(COLUMNS)]
        found = (column.stage, column.quantity), ("mean", "spread")[best // len(COLUMNS)]
        hits += found == true
    tell(f"n {n}: the true largest cause first in {hits / sets:.3f}")
    assert hits / sets >= 0.9


def test_the_made_up_weights_are_those_of_the_plan() -> None:
    assert tuple(WANTED[AT[number, "to_g"]] for number in range(4)) == TO_G

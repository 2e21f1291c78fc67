from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from logger.compare.practice import study
from logger.compare.practice.places import odd_positions, rounds_of
from tests.logger.compare.brews import four_pours
from tests.logger.compare.practice.made_up import SETS, pour_columns
from tests.logger.compare.practice.sets import EVENING, in_rounds, natural


def test_a_round_ends_where_nobody_brews_for_twenty_minutes() -> None:
    minutes = (0, 6, 12, 60, 66, 200)
    started = [EVENING + timedelta(minutes=each) for each in minutes]
    assert rounds_of(started) == ((0, 1, 2), (3, 4), (5,))
    assert rounds_of([EVENING, None]) == ()


def test_the_cup_that_is_always_heavy_is_named() -> None:
    practice = study(in_rounds(6, 4, 1.4, 1), four_pours())
    (odd,) = practice.positions.odd
    assert (odd.stage, odd.quantity, odd.position) == ("pour 3", "to_g", 4)
    assert odd.difference.low < 1.4 < odd.difference.high
    assert odd.difference.n == 6
    assert odd.says.startswith("pour 3, its weight: cups 1-3 agree, cup 4 is always 1.")
    assert [one.position for one in practice.brews[:5]] == [1, 2, 3, 4, 1]


def test_rounds_that_differ_are_no_places_that_differ() -> None:
    practice = study(in_rounds(6, 4, 0.0, 2), four_pours())
    assert practice.positions.odd == ()
    assert practice.positions.says == "Over 6 rounds of 4 cups no cup stands out by its place beyond chance."


def test_too_few_rounds_say_so() -> None:
    assert "cannot tell" in study(in_rounds(2, 4, 3.0, 3), four_pours()).positions.says
    assert "cannot tell" in study(natural(4, 4), four_pours()).positions.says
    assert "not known" in study([], four_pours()).positions.says


def test_of_two_cups_nobody_can_say_which_is_odd() -> None:
    generator = np.random.default_rng(5)
    values = generator.normal(0, 1, (1, 8, 2))
    values[0, :, 1] += 6.0
    assert len(odd_positions(pour_columns()[2:3], values)) == 1


def test_chance_alone_names_a_cup_in_one_of_twenty_sets() -> None:
    generator, found, sets = np.random.default_rng(6), 0, max(SETS // 2, 30)
    columns = pour_columns()[:8]
    for _ in range(sets):
        found += bool(odd_positions(columns, generator.normal(0, 1, (8, 5, 4))))
    # Three standard errors of the count above the 5 % that are stated.
    assert found / sets <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / sets)


@pytest.mark.parametrize("rounds", [5])
def test_a_value_that_is_missing_does_no_harm(rounds: int) -> None:
    values = np.random.default_rng(7).normal(0, 0.3, (1, rounds, 4))
    values[0, :, 3] += 3.0
    values[0, 0, 1] = np.nan
    (odd,) = odd_positions(pour_columns()[2:3], values)
    assert odd.position == 4

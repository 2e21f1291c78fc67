"""When a pour that was told early is looked at again."""

import math

import numpy as np
import pytest

from logger.curve.brew import Pour
from logger.curve.edges.choice import Known
from logger.curve.live.again import AGAIN_S, DRIPS_S, FADES_S, WHOLE_S, WHOLE_THIN_S, Again
from logger.curve.pours.certainty import Sure
from tests.benchmarks.curve_suite import Floats

KNOWN = Known(20.0, 19.9, 20.1, 50.0, 0.05)


def shown(*weights_g: float, every_s: float = 0.1) -> tuple[Floats, Floats]:
    return every_s * np.arange(len(weights_g)), np.array(weights_g)


MOVED = shown(50.0, 50.4, 53.2, 56.1)


def pour(end_width_s: float) -> Pour:
    between = (20.0 - 0.5 * end_width_s, 20.0 + 0.5 * end_width_s)
    return Pour(10.0, 20.0, 0.0, 50.0, 50.0, 5.0, 5.0, (9.9, 10.1), between, (49.9, 50.1))


def told(end_width_s: float, *, thin: bool, at_s: float = 20.7) -> Again:
    again = Again()
    again.told(pour(end_width_s), Sure(KNOWN, KNOWN, thin), at_s)
    return again


def test_a_pour_that_is_sure_is_not_looked_at_again() -> None:
    again = told(0.5, thin=False)
    assert again.due_s == math.inf
    assert again.waits(21.0, 20.5)
    assert again.knows(20.5, 20.7, MOVED)
    assert not again.waits(20.0 + WHOLE_S, 20.5)
    assert not again.knows(25.0, 20.7, MOVED)


def test_one_that_is_not_is_looked_at_once_more() -> None:
    again = told(2.0, thin=False, at_s=20.6)
    assert again.due_s == pytest.approx(20.0 + DRIPS_S)
    again.told(pour(2.0), Sure(KNOWN, KNOWN, thin=False), again.due_s)
    assert again.due_s == math.inf
    assert not again.knows(20.5, again.due_s, MOVED)


def test_one_told_just_before_that_is_not() -> None:
    assert told(2.0, thin=False, at_s=20.0 + DRIPS_S - 0.9 * AGAIN_S).due_s == math.inf


def test_an_espresso_is_looked_at_less_and_less_often() -> None:
    again, at = told(0.5, thin=True), []
    while again.due_s < math.inf:
        at.append(again.due_s)
        again.looked(again.due_s)
    gaps_s = [later - earlier for earlier, later in zip([20.7, *at], at, strict=False)]
    assert gaps_s == sorted(gaps_s)
    assert min(gaps_s) >= AGAIN_S - 1e-9
    assert 20.0 + FADES_S <= at[-1] < 20.0 + WHOLE_THIN_S


def test_when_something_else_runs_it_is_left_alone() -> None:
    again = told(2.0, thin=True)
    again.over()
    assert again.due_s == math.inf


def test_dry_coffee_that_was_told_is_known() -> None:
    again = Again()
    again.told_all(20.7)
    assert again.knows(21.0, 20.7, MOVED)
    assert not again.waits(22.3, 21.0)


@pytest.mark.parametrize(
    ("shown_g", "is_known"),
    [
        ([50.0, 51.0, 51.0, 50.0, 51.0], True),
        ([50.0, 51.0, 52.0], False),
        ([50.0, 50.5, 50.0], True),
        ([50.02, 50.11, 50.07], True),
        ([50.02, 50.41, 50.07], False),
        ([50.0, 60.0], False),
    ],
    ids=["one step", "two", "half a gram", "noise", "stirring", "at once"],
)
def test_a_display_that_flickers_by_a_step_tells_nothing_new(shown_g: list[float], is_known: bool) -> None:
    again = told(0.5, thin=False)
    assert again.knows(30.0, 25.0, shown(*shown_g)) is is_known
    assert Again().knows(30.0, 25.0, shown(*shown_g)) is is_known


def test_a_pour_that_is_not_sure_is_read_when_all_of_its_end_is_seen_though_nothing_moves() -> None:
    again, still = told(2.0, thin=False), shown(*[50.0] * 5)
    assert not again.knows(23.0, 21.5, still)
    assert again.knows(26.0, 20.0 + WHOLE_S, still)


def test_a_gap_is_something_that_happened() -> None:
    assert not Again().knows(30.0, 25.0, shown(50.0, 50.0, 50.0, every_s=1.5))

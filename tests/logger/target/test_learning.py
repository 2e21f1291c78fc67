"""Targets learned from a good brew."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.curve import Analysis, Event, Method, Pour
from logger.errors import BadInputError
from logger.target import Stage, Target, learn_target, parse_target


def brew(
    pours: list[tuple[float, float, float]], *, method: Method = "pour-over", lifted_s: float | None = None
) -> Analysis:
    """An analysis of pours given as start, end and amount; the clock of the recording starts at 12.3 s."""
    made, poured_g = [], 0.0
    for start_s, end_s, amount_g in pours:
        flow_g_s = amount_g / (end_s - start_s)
        span = (12.3 + start_s, 12.3 + end_s)
        made.append(Pour(*span, poured_g, poured_g + amount_g, amount_g, flow_g_s, flow_g_s))
        poured_g += amount_g
    lifts = () if lifted_s is None else (Event("vessel-off", 12.3 + lifted_s, 12.3 + lifted_s + 1, -300.0),)
    grid = np.arange(3.0)
    ends = (12.3, made[-1].end_s) if made else (None, None)
    return Analysis(
        method if made else None, *ends, poured_g, tuple(made), lifts, grid, grid, grid, 0.0, 0.05, 0.1
    )


def test_pours_become_stages_in_round_numbers() -> None:
    analysis = brew([(0.0, 9.2, 45.3), (44.6, 58.0, 94.4), (75.2, 93.4, 110.1)], lifted_s=171.7)
    target = learn_target(analysis, title="Tuesday's best", dose_g=15, water_c=94.0)
    assert target.stages == (
        Stage("bloom", 0.0, 45.0, 0.0, flow_g_s=4.9),
        Stage("pour 1", 45.0, 140.0, 45.0, flow_g_s=7.0),
        Stage("pour 2", 75.0, 250.0, 140.0, flow_g_s=6.0),
    )
    assert (target.end_s, target.dose_g, target.water_c) == (172.0, 15.0, 94.0)
    assert parse_target(target.text, "") == target


def test_a_first_pour_without_a_wait_is_no_bloom() -> None:
    target = learn_target(brew([(0, 9, 45), (20, 30, 60)]), title="x", dose_g=15)
    assert [stage.name for stage in target.stages] == ["pour 1", "pour 2"]
    assert target.end_s is None


def test_a_drip_belongs_to_the_pour_before_it() -> None:
    target = learn_target(brew([(0, 9, 45), (45, 55, 60), (57, 58, 1.2)]), title="x", dose_g=8)
    assert [stage.to_g for stage in target.stages] == [45.0, 106.0]


def test_a_flow_that_rounding_makes_impossible_is_left_out() -> None:
    target = learn_target(brew([(0, 9.4, 45.49), (9.45, 20, 60)]), title="x", dose_g=8)
    assert target.stages[0].flow_g_s is None


def test_an_espresso_becomes_a_window_from_its_first_drip() -> None:
    target = learn_target(brew([(0, 22.3, 36.2)], method="espresso"), title="x", dose_g=18)
    assert target.shot
    assert (target.shot.yield_g, target.shot.time_s, target.shot.first_drip_s) == (36.0, (20.0, 24.0), None)


def test_nothing_is_learned_from_a_recording_without_a_brew() -> None:
    with pytest.raises(BadInputError, match="no brew"):
        learn_target(brew([]), title="x", dose_g=15)


POURS = st.lists(
    st.tuples(st.floats(0.2, 60), st.floats(0.5, 40), st.floats(0.2, 300)), min_size=1, max_size=6
)


@given(POURS)
def test_any_brew_gives_a_target_that_can_be_brewed_or_a_reason(
    waits: list[tuple[float, float, float]],
) -> None:
    pours, at_s = [], 0.0
    for wait_s, took_s, amount_g in waits:
        pours.append((at_s, at_s + took_s, amount_g))
        at_s += took_s + wait_s
    try:
        target = learn_target(brew(pours), title="x", dose_g=15)
    except BadInputError:
        return
    assert isinstance(target, Target)
    assert target.total_g == pytest.approx(sum(amount_g for *_, amount_g in pours), abs=0.5)

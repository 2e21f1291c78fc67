"""What becomes of a plan when a pour went wrong: the water stays, and nothing becomes impossible."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.guide.plan import LEAST_POUR_G, Plan
from logger.target import Stage, Target, Tolerance
from logger.target.checking import MAX_FLOW_G_S
from tests.logger.target.written_targets import poured_targets

WITHIN = Tolerance(start_s=3.0, weight_g=2.0, flow_g_s=1.0)
TARGET = Target(
    "Four pours",
    "pour-over",
    15.0,
    stages=(
        Stage("bloom", 0.0, 45.0, 0.0, flow_g_s=5.0, tolerance=WITHIN),
        Stage("pour 1", 40.0, 140.0, 45.0, flow_g_s=6.0, tolerance=WITHIN),
        Stage("pour 2", 60.0, 190.0, 140.0, duration_s=10.0, tolerance=WITHIN),
        Stage("pour 3", 90.0, 240.0, 190.0, tolerance=WITHIN),
    ),
    end_s=150.0,
    tolerance=WITHIN,
)


def keeping(keep: Any) -> Plan:
    return Plan.of(replace(TARGET, keep=keep))


def test_what_was_too_much_is_shared_by_the_pours_to_come() -> None:
    plan, text = keeping("times").ended(0, 57.0, 11.0)
    assert text == "bloom ended 12 g high: pour 1 to 146 g, pour 2 to 193 g."
    assert [stage.to_g for stage in plan.stages] == [57.0, 146.0, 193.0, 240.0]
    assert [stage.planned_flow_g_s for stage in plan.stages] == [5.0, 6.0, 5.0, None]
    assert plan.version == 1 and [cue.changed for cue in plan.cues()] == [False, True, True, False]


def test_inside_the_tolerance_nothing_changes() -> None:
    plan = keeping("times")
    assert plan.ended(0, 46.9, 10.0) == (plan, "")
    assert plan.begun(1, 42.9) == (plan, "")


def test_a_pour_that_has_been_poured_already_is_left_out() -> None:
    plan, text = keeping("times").ended(1, 236.0, 66.0)
    assert text == "pour 1 ended 96 g high: pour 2 is left out."
    assert plan.stages[-1].name == "pour 3" and plan.target.total_g == 240.0
    nothing_left, text = keeping("times").ended(1, 240.0 - LEAST_POUR_G + 0.6, 66.0)
    assert text == "pour 1 ended 98 g high: pour 2 is left out, pour 3 is left out."
    assert [stage.name for stage in nothing_left.stages] == ["bloom", "pour 1"]


def test_times_are_kept_by_pouring_faster_as_far_as_the_tolerance_goes() -> None:
    plan, text = keeping("times").begun(1, 44.0)
    # 95 g in the 13 s that are left until three before pour 2 would be 7.3 g/s: one more than planned may be.
    assert plan.stages[1].planned_flow_g_s == pytest.approx(7.0)
    assert plan.stages[2].start_s == pytest.approx(44.0 + 95.0 / 7.0 + 3.0)
    assert plan.stages[3].start_s == 90.0 and plan.target.end_s == 150.0
    assert text == "pour 1 began 4 s late: pour 1 at 7.0 g/s, pour 2 at 1:01."


def test_intervals_are_kept_by_moving_all_that_follows() -> None:
    plan, text = keeping("intervals").begun(1, 48.0)
    assert [stage.start_s for stage in plan.stages] == [0.0, 48.0, 68.0, 98.0]
    assert plan.target.end_s == 158.0
    assert text == "pour 1 began 8 s late: pour 2 at 1:08, pour 3 at 1:38, the end at 2:38."


def test_a_pour_that_took_too_long_pushes_the_next_and_with_intervals_all() -> None:
    kept, _ = keeping("times").ended(1, 140.0, 66.0)
    assert [stage.start_s for stage in kept.stages] == [0.0, 40.0, 69.0, 90.0]
    moved, _ = keeping("intervals").ended(1, 140.0, 66.0)
    assert [stage.start_s for stage in moved.stages] == [0.0, 40.0, 69.0, 99.0]
    assert moved.target.end_s == 159.0


def test_a_plan_that_is_to_stay_stays() -> None:
    plan = keeping("plan")
    assert plan.begun(1, 55.0) == (plan, "") and plan.ended(0, 90.0, 20.0) == (plan, "")


def test_stages_of_one_name_are_told_apart() -> None:
    twins = replace(TARGET, stages=tuple(replace(stage, name="pour") for stage in TARGET.stages))
    plan, _ = Plan.of(twins).ended(0, 60.0, 12.0)
    assert [cue.number for cue in plan.cues()] == [1, 2, 3, 4]
    assert plan.target.total_g == 240.0


@settings(max_examples=50)
@given(
    poured_targets(),
    st.sampled_from(["times", "intervals"]),
    st.integers(0, 5),
    st.floats(-30.0, 200.0),
    st.floats(-5.0, 60.0),
)
def test_whatever_happens_the_rest_can_be_poured(
    target: Target, keep: Any, which: int, off_g: float, off_s: float
) -> None:
    plan = Plan.of(replace(target, keep=keep))
    number = which % len(target.stages)
    stage = target.stages[number]
    fastest = max([MAX_FLOW_G_S, *(each.planned_flow_g_s or 0.0 for each in target.stages)])
    began_s = max(stage.start_s + off_s, 0.0)
    begun, _ = plan.begun(number, began_s)
    poured_g = max(stage.to_g + off_g, stage.from_g + 1.0)
    ended, text = begun.ended(number, poured_g, began_s + stage.poured_g / 5.0)
    for made in (begun, ended):
        following = made.stages[number + 1 :]
        # All the water stays, as long as there is a pour left to bring it.
        if following:
            assert made.target.total_g == target.total_g
        assert all(each.poured_g > 0.0 for each in following)
        assert all((each.planned_flow_g_s or 1.0) <= fastest + 1e-9 for each in following)
        starts = [each.start_s for each in made.stages[number:]]
        assert starts == sorted(starts)
        made.cues()
    # Only a plan that is another one has something to say.
    assert (text == "") == (ended == begun)

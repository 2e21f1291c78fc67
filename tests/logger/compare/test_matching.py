"""Which pours belong to which stage."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.compare import match
from logger.compare.matching import Matching
from tests.logger.compare.brews import AS_PLANNED, START_S, four_pours, poured

Found = list[tuple[str, tuple[int, ...], tuple[int, ...]]]


def found(*pours: tuple[float, ...]) -> tuple[Found, tuple[int, ...]]:
    matching = match(four_pours().stages, poured(*pours), START_S)
    return [(group.finding, group.stages, group.pours) for group in matching.groups], matching.extra


ONE_TO_ONE: Found = [("matched", (number,), (number,)) for number in range(4)]


@pytest.mark.parametrize(
    "pours",
    [
        AS_PLANNED,
        ((0, 45), (70, 55), (100, 50), (130, 100)),
        ((0, 60), (45, 40), (75, 50), (105, 100)),
        ((0, 60), (45, 55), (75, 50), (105, 100)),
        ((0, 45), (45, 55), (75, 50), (225, 100)),
    ],
    ids=[
        "as planned",
        "all late",
        "heavy bloom, taken back",
        "heavy bloom, carried on",
        "last two minutes late",
    ],
)
def test_a_brew_with_all_its_pours_is_matched_one_to_one(pours: tuple[tuple[float, float], ...]) -> None:
    assert found(*pours) == (ONE_TO_ONE, ())


def test_a_pour_left_out_is_missing_though_all_later_weights_are_lower() -> None:
    groups, extra = found((0, 45), (75, 50), (105, 100))
    assert groups == [
        ("matched", (0,), (0,)),
        ("missing", (1,), ()),
        ("matched", (2,), (1,)),
        ("matched", (3,), (2,)),
    ]
    assert extra == ()


def test_two_stages_in_one_go_are_merged() -> None:
    groups, _ = found((0, 45), (45, 105), (105, 100))
    assert groups == [("matched", (0,), (0,)), ("merged", (1, 2), (1,)), ("matched", (3,), (2,))]


def test_all_water_at_once_is_one_merged_pour() -> None:
    assert found((0, 250))[0] == [("merged", (0, 1, 2, 3), (0,))]


def test_a_stage_in_two_goes_is_split() -> None:
    groups, extra = found((0, 45), (45, 55), (75, 25), (83, 25), (105, 100))
    assert groups[2] == ("split", (2,), (2, 3))
    assert extra == ()


def test_a_late_top_up_is_extra_and_a_drip_is_not() -> None:
    assert found(*AS_PLANNED, (150, 10)) == (ONE_TO_ONE, (4,))
    groups, extra = found((0, 45), (8.5, 1.2), *AS_PLANNED[1:])
    assert groups[0] == ("split", (0,), (0, 1))
    assert extra == ()


def test_nothing_poured_leaves_every_stage_missing() -> None:
    assert found()[0] == [("missing", (number,), ()) for number in range(4)]


def assert_whole(matching: Matching, stages: int, pours: int) -> None:
    """Every stage and every pour once, all in order."""
    assert [stage for group in matching.groups for stage in group.stages] == list(range(stages))
    used = [pour for group in matching.groups for pour in group.pours]
    assert used == sorted(used)
    assert sorted([*used, *matching.extra]) == list(range(pours))


ANY_POURS = st.lists(st.tuples(st.floats(0.5, 90), st.floats(0.5, 200), st.floats(0.5, 15)), max_size=12)


@settings(deadline=None)  # other work may share the processor
@given(ANY_POURS, st.integers(0, 4))
def test_every_pour_is_used_once_and_the_order_kept(
    waits: list[tuple[float, float, float]], stages: int
) -> None:
    pours: list[tuple[float, float, float]] = []
    at_s = 0.0
    for wait_s, amount_g, flow_g_s in waits:
        pours.append((at_s, amount_g, flow_g_s))
        at_s += amount_g / flow_g_s + wait_s
    matching = match(four_pours().stages[:stages], poured(*pours), START_S)
    assert_whole(matching, stages, len(pours))


@given(
    st.lists(st.floats(-4, 12), min_size=3, max_size=3),
    st.lists(st.floats(-6, 6), min_size=4, max_size=4),
)
def test_a_hand_that_is_late_and_over_is_still_matched(late_s: list[float], over_g: list[float]) -> None:
    ends_g = [45 + over_g[0], 100 + over_g[1], 150 + over_g[2], 250 + over_g[3]]
    starts_s = [0.0, 45 + late_s[0], 75 + late_s[1], 105 + late_s[2]]
    amounts_g = [to_g - from_g for from_g, to_g in zip([0.0, *ends_g], ends_g, strict=False)]
    assert found(*zip(starts_s, amounts_g, strict=True)) == (ONE_TO_ONE, ())


@given(st.integers(1, 3), st.floats(-3, 8))
def test_a_pour_left_out_is_the_one_found_missing(left_out: int, late_s: float) -> None:
    kept = [number for number in range(4) if number != left_out]
    groups, extra = found(*((AS_PLANNED[n][0] + (late_s if n else 0.0), AS_PLANNED[n][1]) for n in kept))
    assert [stages[0] for finding, stages, _ in groups if finding == "matched"] == kept
    assert extra == ()

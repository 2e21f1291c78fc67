from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.commands.playhead import FASTEST, SLOWEST, Playhead, around, neighbour

POURS = [(10.0, 18.0), (40.0, 52.0), (70.0, 80.0)]


def test_it_moves_at_its_speed_and_stops_at_the_end() -> None:
    head = Playhead(100.0, 8.0, now_s=5.0)
    assert head.at_s(5.0) == 0.0
    assert head.at_s(6.0) == 8.0
    assert head.wall_s(16.0) == 7.0
    assert head.at_s(500.0) == 100.0


def test_paused_it_stands_still_and_goes_on_from_there() -> None:
    head = Playhead(100.0, 1.0, now_s=0.0)
    head.pause(10.0)
    assert head.at_s(60.0) == 10.0
    assert head.wall_s(11.0) == math.inf
    head.pause(60.0)
    assert head.at_s(61.0) == 11.0


def test_another_speed_counts_from_now_on() -> None:
    head = Playhead(1000.0, 1.0, now_s=0.0)
    head.change_speed(4.0, 10.0)
    assert head.at_s(11.0) == 14.0
    for _ in range(10):
        head.change_speed(2.0, 11.0)
    assert head.speed == FASTEST
    for _ in range(20):
        head.change_speed(0.5, 11.0)
    assert head.speed == SLOWEST


def test_it_goes_where_it_is_sent_within_the_recording() -> None:
    head = Playhead(100.0, 1.0, now_s=0.0)
    head.seek(50.0, 3.0)
    assert head.at_s(4.0) == 51.0
    head.seek(-7.0, 4.0)
    assert head.at_s(4.0) == 0.0
    head.seek(700.0, 4.0)
    assert head.at_s(4.0) == 100.0
    assert head.jumps == 3


def test_a_loop_begins_again_until_it_is_left() -> None:
    head = Playhead(100.0, 1.0, now_s=0.0)
    head.play_again((40.0, 50.0), 0.0)
    assert head.at_s(0.0) == 40.0
    assert not head.turn(9.0)
    assert head.turn(10.0)
    assert head.at_s(12.0) == 42.0
    head.seek(45.0, 12.0)
    assert head.loop == (40.0, 50.0)
    head.seek(60.0, 12.0)
    assert head.loop is None


def test_as_fast_as_possible_is_at_the_end_at_once() -> None:
    head = Playhead(100.0, math.inf, now_s=0.0)
    assert head.at_s(0.0) == 100.0
    assert head.wall_s(60.0) == 0.0


def test_a_pour_is_played_with_what_leads_to_it() -> None:
    assert around((40.0, 52.0), 100.0) == (37.0, 56.0)
    assert around((1.0, 99.0), 100.0) == (0.0, 100.0)


@pytest.mark.parametrize(
    ("at_s", "step", "wanted"),
    [(0.0, 0, 0), (0.0, 1, 0), (0.0, -1, None), (12.0, 0, 0), (12.0, 1, 1), (12.0, -1, None), (37.0, 0, 1),
     (60.0, 1, 2), (60.0, -1, 0), (75.0, 1, None), (99.0, 0, 2)],
)  # fmt: skip
def test_the_pour_at_hand_and_its_neighbours(at_s: float, step: int, wanted: int | None) -> None:
    assert neighbour(POURS, at_s, step) == (None if wanted is None else POURS[wanted])
    assert neighbour([], at_s, step) is None


ACTIONS = st.lists(
    st.tuples(
        st.sampled_from(["pause", "faster", "slower", "seek", "loop"]), st.floats(0, 20), st.floats(-50, 150)
    ),
    max_size=30,
)


@given(ACTIONS)
def test_whatever_is_done_it_stays_within_the_recording_and_only_seeking_goes_back(
    actions: list[tuple[str, float, float]],
) -> None:
    head, now_s = Playhead(100.0, 1.0, now_s=0.0), 0.0
    for what, later_s, at_s in actions:
        before_s, jumps = head.at_s(now_s), head.jumps
        now_s += later_s
        if what == "pause":
            head.pause(now_s)
        elif what == "seek":
            head.seek(at_s, now_s)
        elif what == "loop":
            head.play_again((20.0, 30.0), now_s)
        else:
            head.change_speed(2.0 if what == "faster" else 0.5, now_s)
        assert 0.0 <= head.at_s(now_s) <= 100.0
        assert head.jumps > jumps or head.at_s(now_s) >= before_s - 1e-9

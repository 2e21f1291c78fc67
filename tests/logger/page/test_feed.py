from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from logger.guide.cue import plain
from logger.page.feed import Feed, Position
from tests.logger.page.cues import pouring, waiting


class Screen:
    """What a viewer has, put together from what it is given."""

    def __init__(self) -> None:
        self.state: dict[str, Any] = {}
        self.rows: list[list[float | None]] = []
        self.at: Position | None = None
        self.characters = 0

    def look(self, feed: Feed) -> None:
        text, self.at = feed.since(self.at)
        self.characters = len(text)
        news = json.loads(f"{{{text}}}")
        self.state |= news["set"]
        self.rows[news["first"] or 0 :] = news["rows"]


def test_a_viewer_sees_the_newest_cue_and_the_whole_curve() -> None:
    feed, screen = Feed("Four pours"), Screen()
    for tenth in range(1, 51):
        feed.show(pouring(tenth / 10, tenth / 2))
    screen.look(feed)
    assert screen.state["poured_g"] == 25.0
    assert screen.state["stage"]["to_g"] == 120.0
    assert len(screen.rows) == 50
    assert screen.rows[-1] == [5.0, 25.0, 18.0, 20.0, 22.0]  # clock, weight, and the corridor at that moment


def test_between_two_whole_seconds_the_corridor_is_on_the_line_between_them() -> None:
    feed, screen = Feed(), Screen()
    feed.show(pouring(4.5, 20.0))
    screen.look(feed)
    assert screen.rows == [[4.5, 20.0, 16.0, 18.0, 20.0]]


def test_what_has_not_changed_is_not_sent_again() -> None:
    feed, screen = Feed(), Screen()
    feed.show(pouring(4.0, 20.0))
    screen.look(feed)
    first = screen.characters
    feed.show(pouring(4.1, 20.6))
    screen.look(feed)
    assert screen.state["poured_g"] == 20.6
    assert screen.characters < first / 4


def test_who_was_asleep_is_given_the_newest_state_and_the_curve_in_between() -> None:
    feed, awake, asleep = Feed(), Screen(), Screen()
    feed.show(pouring(1.0, 4.0))
    asleep.look(feed)
    for second in range(2, 30):
        feed.show(pouring(float(second), 4.0 * second))
        awake.look(feed)
    asleep.look(feed)
    assert asleep.state == awake.state
    assert asleep.rows == awake.rows
    assert len(asleep.rows) == 29


def test_another_program_at_the_same_address_starts_over() -> None:
    old, new, screen = Feed(), Feed("the next morning"), Screen()
    for second in range(1, 9):
        old.show(pouring(float(second), 4.0 * second))
    screen.look(old)
    new.show(waiting(title="the next morning"))
    screen.look(new)
    assert screen.rows == []
    assert screen.state["title"] == "the next morning"


def test_a_new_brew_begins_a_new_curve_and_calls_count_anew() -> None:
    feed, screen = Feed(), Screen()
    feed.show(pouring(30.0, 100.0))
    screen.look(feed)
    take = screen.state["take"]
    feed.show(replace(pouring(0.5, 2.0), brew=2))
    screen.look(feed)
    assert screen.rows == [[0.5, 2.0, 0.0, 2.0, 4.0]]
    assert screen.state["take"] > take


def test_cues_of_the_past_draw_the_curve_and_are_not_shown() -> None:
    feed, screen = Feed(), Screen()
    feed.show(waiting())
    screen.look(feed)
    for second in range(1, 6):
        feed.pass_by(pouring(float(second), 4.0 * second))
    screen.look(feed)
    assert screen.state["phase"] == "waiting"
    assert len(screen.rows) == 5


def test_lines_are_kept_but_not_for_ever() -> None:
    feed, screen = Feed(), Screen()
    for number in range(20):
        feed.tell(f"   line {number}")
    feed.tell("")
    screen.look(feed)
    assert screen.state["told"] == [f"line {number}" for number in range(14, 20)]


def test_one_feed_can_show_what_another_shows() -> None:
    there, here, screen = Feed("there"), Feed(), Screen()
    at = None
    for second in range(1, 6):
        there.show(pouring(float(second), 4.0 * second))
        text, at = there.since(at)
        news = json.loads(f"{{{text}}}")
        here.apply(news["set"], news["rows"], news["first"])
    screen.look(here)
    assert screen.state["poured_g"] == 20.0
    assert len(screen.rows) == 5


@given(st.text(max_size=60))
def test_what_a_viewer_says_of_itself_is_a_position_or_nothing(text: str) -> None:
    position = Position.read(text)
    assert position is None or str(position) == text


STEPS = st.lists(
    st.tuples(st.floats(0.0, 300.0), st.floats(0.0, 250.0), st.booleans(), st.integers(1, 3)), max_size=40
)


@given(STEPS)
def test_whoever_looks_in_whenever_sees_the_same(steps: list[tuple[float, float, bool, int]]) -> None:
    feed, often, seldom, late = Feed(), Screen(), Screen(), Screen()
    for clock_s, poured_g, looks, brew in steps:
        cue = pouring(clock_s, poured_g, brew=brew)
        feed.show(cue)
        often.look(feed)
        assert {name: often.state[name] for name in ("clock_s", "poured_g")} == {
            "clock_s": plain(clock_s),
            "poured_g": plain(poured_g),
        }
        if looks:
            seldom.look(feed)
    for screen in (seldom, late):
        screen.look(feed)
    often.look(feed)
    assert often.state == seldom.state == late.state
    assert often.rows == seldom.rows == late.rows

"""What a brewer who pours by hand is told, moment by moment: a table of moments, and what each must say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from logger.curve import Change, LiveAnalysis, Pour
from logger.guide.calls import Caller
from logger.guide.hand import PRIOR_S, Hand
from logger.guide.pours import PourCourse
from logger.guide.tracking import Now
from logger.target import Calls, Stage, Target, Tolerance

WITHIN = Tolerance(start_s=3.0, weight_g=2.0, flow_g_s=1.0)
TARGET = Target(
    "Three pours",
    "pour-over",
    15.0,
    stages=(
        Stage("bloom", 0.0, 45.0, 0.0, flow_g_s=5.0, tolerance=WITHIN),
        Stage("pour 1", 40.0, 140.0, 45.0, flow_g_s=6.0, tolerance=WITHIN),
        Stage("pour 2", 80.0, 240.0, 140.0, tolerance=WITHIN),
    ),
    end_s=150.0,
    tolerance=WITHIN,
)
START_S, LAG_S = 12.0, 0.3


class Brew:
    """A course, and the moments that are shown to it."""

    def __init__(self, target: Target = TARGET, hand: Hand | None = None) -> None:
        self.caller = Caller(target.calls)
        self.course = PourCourse(target, hand or Hand(), self.caller)
        self.live = LiveAnalysis(target=target)
        self.streams, self.ran = 0, False

    def at(
        self, clock_s: float, poured_g: float, flow_g_s: float = 0.0, rested_g: float = 0.0
    ) -> dict[str, Any]:
        """Show one moment; a stream begins when the moment before had none."""
        runs = flow_g_s > 0.0
        self.streams += runs and not self.ran
        self.ran = runs
        now = Now(START_S + clock_s, clock_s, runs, poured_g, flow_g_s, LAG_S, self.streams, rested_g)
        return dict(self.course.moment(now, self.live))

    def read(self, start_s: float, end_s: float, from_g: float, to_g: float) -> None:
        """Let a pour be read; times on the brew's clock."""
        flow_g_s = (to_g - from_g) / (end_s - start_s)
        pour = Pour(START_S + start_s, START_S + end_s, from_g, to_g, to_g - from_g, flow_g_s, flow_g_s)
        self.live._told.recent.append(pour)  # as the live analysis has it when it says that a pour is over
        self.course.learn(Change("pour-ended", START_S + end_s, pour), self.live, LAG_S)

    def said(self, time_s: float = 0.0) -> list[tuple[str, str]]:
        return [(call.kind, call.text) for call in self.caller.recent(START_S + time_s)]


# clock, on the scale, flow, weight when this stream began -> phase, word, stage, grams to go, seconds until
TABLE = {
    "bloom begins": (1.0, 4.0, 5.0, 0.0, "pouring", "pour", "bloom", 41.0, None),
    "one second before the weight": (9.0, 40.0, 5.0, 0.0, "pouring", "pour", "bloom", 5.0, None),
    "hand and links need 0.68 s": (9.4, 41.6, 5.0, 0.0, "pouring", "stop", "bloom", 3.4, None),
    "poured on over the bloom": (11.0, 50.0, 5.0, 0.0, "pouring", "stop", "bloom", -5.0, None),
    "bloom rests": (20.0, 45.4, 0.0, 0.0, "pause", "wait", "pour 1", 94.6, 20.0),
    "a little short counts as done": (20.0, 43.5, 0.0, 0.0, "pause", "wait", "pour 1", 96.5, 20.0),
    "far short does not": (20.0, 30.0, 0.0, 0.0, "pause", "pour", "bloom", 15.0, -20.0),
    "pour 1 is due": (40.0, 45.0, 0.0, 0.0, "pause", "pour", "pour 1", 95.0, 0.0),
    "pour 1 is late": (47.0, 45.0, 0.0, 0.0, "pause", "pour", "pour 1", 95.0, -7.0),
    "pour 1 begun early": (38.0, 50.0, 6.0, 45.0, "pouring", "pour", "pour 1", 90.0, None),
    "bloom poured on until pour 1 is due": (38.0, 60.0, 6.0, 0.0, "pouring", "pour", "pour 1", 80.0, None),
    "over the end": (100.0, 243.0, 5.0, 140.0, "pouring", "stop", "pour 2", -3.0, None),
    "more after all is in": (120.0, 246.0, 5.0, 241.0, "pouring", "stop", None, -6.0, None),
    "running dry": (100.0, 240.0, 0.0, 0.0, "drawdown", "wait", None, None, 50.0),
    "over": (151.0, 240.0, 0.0, 0.0, "done", "done", None, None, None),
}


@pytest.mark.parametrize("name", TABLE)
def test_a_moment(name: str) -> None:
    clock_s, poured_g, flow_g_s, rested_g, phase, word, stage, to_go_g, in_s = TABLE[name]
    told = Brew().at(clock_s, poured_g, flow_g_s, rested_g)
    assert (told["phase"], told["word"]) == (phase, word)
    found = told.get("stage")
    assert (found.name if found else None) == stage
    assert told.get("to_go_g") == (to_go_g if to_go_g is None else pytest.approx(to_go_g))
    assert told.get("next_in_s") == (in_s if in_s is None else pytest.approx(in_s))


def test_stop_can_be_foreseen() -> None:
    told = Brew().at(5.0, 25.0, 5.0)
    assert told["stop_in_s"] == pytest.approx(20.0 / 5.0 - PRIOR_S["pour"])
    assert Brew().at(9.4, 41.6, 5.0)["stop_in_s"] is None  # it has been said


def test_a_pause_counts_down_to_the_pour_and_each_call_is_said_once() -> None:
    brew = Brew()
    brew.at(5.0, 25.0, 5.0)
    said: dict[int, tuple[float, str, str]] = {}
    for tick in range(20 * 20, 42 * 20):
        brew.at(tick / 20, 45.0)
        for call in brew.caller.recent(START_S + tick / 20):
            said.setdefault(call.id, (round(call.time_s - START_S, 2), call.kind, call.text))
    assert list(said.values()) == [
        (34.0, "next", "to one forty"),
        (37.0, "count", "3"),
        (38.0, "count", "2"),
        (39.0, "count", "1"),
        (40.0, "start", "pour"),
    ]


def test_how_far_it_counts_and_what_it_says_is_the_targets_to_choose() -> None:
    calls = Calls(count_s=0, say=("count", "start"), language="de")
    brew = Brew(replace(TARGET, calls=calls))
    for tick in range(30 * 20, 41 * 20):
        brew.at(tick / 20, 45.0)
    assert brew.said(41.0) == [("start", "pour")]


def test_a_wobble_is_no_reason_to_speak_and_a_habit_is() -> None:
    brew = Brew()
    for tick in range(100):
        clock_s = tick / 20
        assert brew.at(clock_s, 5.0 * clock_s, 6.6 if clock_s % 1.0 < 0.5 else 4.6)["word"] == "pour"
    for tick in range(100, 130):
        told = brew.at(tick / 20, 25.0, 6.6)
    assert told["word"] == "slower"
    assert told["rate"] == pytest.approx(0.8)
    assert brew.said(6.5) == [("slower", "slower")]


def test_just_before_the_stop_nobody_is_hurried() -> None:
    brew = Brew()
    for tick in range(100):
        brew.at(tick / 20, 20.0, 3.0)
    assert brew.at(5.0, 20.0, 3.0)["word"] == "faster"
    assert brew.at(6.0, 39.0, 3.0)["word"] == "pour"


def test_who_pours_on_is_told_again_but_not_while_letting_go() -> None:
    brew = Brew()
    for clock_s in (9.0, 9.5, 10.0, 12.5):
        brew.at(clock_s, 5.0 * clock_s, 5.0)
    assert [kind for kind, _ in brew.said(12.5)] == ["stop"]  # of the last three seconds: that at 12.5
    brew.at(16.0, 70.0, 1.0)
    assert [kind for kind, _ in brew.said(16.0)] == []


def test_what_came_after_the_call_is_learned_for_the_next_pour() -> None:
    brew = Brew()
    brew.at(9.0, 40.0, 5.0)
    brew.at(9.4, 42.0, 5.0)
    assert brew.said(9.4) == [("stop", "stop")]
    brew.at(11.0, 47.0)
    brew.read(0.0, 10.5, 0.0, 47.0)
    (outcome,) = brew.course.outcomes
    assert outcome.flow_g_s == 5.0
    assert outcome.after_g == pytest.approx(47.0 - (42.0 - 5.0 * LAG_S))
    late_s = outcome.delay_s
    assert PRIOR_S["pour"] + LAG_S < brew.course.hand.delay_s("pour", LAG_S) < late_s


def test_a_pour_that_ended_high_changes_the_plan_and_says_so() -> None:
    brew = Brew()
    brew.at(5.0, 25.0, 5.0)
    brew.at(14.0, 57.0)
    brew.read(0.0, 12.0, 0.0, 57.0)
    told = brew.at(20.0, 57.0)
    change = brew.course.change
    assert change is not None and change.text == "bloom ended 12 g high: pour 1 to 146 g."
    assert told["stage"].to_g == 146.0 and told["stage"].changed
    assert ("change", "new plan") in brew.said(14.5)
    assert brew.course.plan.target.total_g == 240.0


def test_a_pour_that_ended_short_goes_on_until_the_next_is_at_hand() -> None:
    brew = Brew()
    brew.at(4.0, 20.0, 5.0)
    assert brew.at(10.0, 30.0)["stage"].name == "bloom"
    brew.read(0.0, 8.0, 0.0, 30.0)
    assert brew.at(36.0, 30.0)["stage"].name == "bloom"
    told = brew.at(37.1, 30.0)
    assert told["stage"].name == "pour 1" and told["word"] == "wait"
    assert brew.course.change is not None and "bloom ended 15 g low" in brew.course.change.text
    assert brew.course.plan.target.total_g == 240.0


@pytest.mark.parametrize(("keep", "next_s"), [("times", 80.0), ("intervals", 87.6)])
def test_a_late_start_moves_what_the_target_lets_move(keep: Any, next_s: float) -> None:
    brew = Brew(replace(TARGET, keep=keep))
    brew.at(5.0, 25.0, 5.0)
    brew.at(20.0, 45.0)
    brew.at(48.3, 47.0, 6.0, 45.0)
    assert brew.course.plan.stages[2].start_s == pytest.approx(next_s, abs=0.1)


def test_stages_without_a_pause_are_poured_through() -> None:
    joined = replace(
        TARGET,
        stages=(
            Stage("fast", 0.0, 60.0, 0.0, flow_g_s=6.0, tolerance=WITHIN),
            Stage("slow", 10.0, 90.0, 60.0, flow_g_s=3.0, tolerance=WITHIN),
        ),
    )
    brew = Brew(joined)
    assert brew.at(9.8, 58.8, 6.0)["word"] == "pour"
    told = brew.at(10.1, 60.6, 6.0)
    assert told["stage"].name == "slow" and told["word"] == "pour"
    assert brew.said(10.1) == [("next", "to ninety")]
    assert brew.at(19.5, 88.5, 3.0)["word"] == "stop"


def test_without_an_end_a_brew_is_done_when_the_water_is_in() -> None:
    assert Brew(replace(TARGET, end_s=None)).at(100.0, 240.0)["word"] == "done"

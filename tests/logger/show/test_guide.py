"""What the brewer is told, moment by moment: a table of moments, and what the screen must say in each."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import pytest

from logger.show.guide import Guide, guide
from logger.target import Shot, Stage, Target, Tolerance

WITHIN = Tolerance(start_s=3.0, weight_g=2.0, flow_g_s=1.0)
POUR_OVER = Target(
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
ESPRESSO = Target("Shot", "espresso", 18.0, shot=Shot(36.0, (25.0, 30.0)))
START_S = 12.0
"""When the first water came, on the readings' axis."""


@dataclass(frozen=True)
class Moment:
    """A live analysis, so far as the guide looks at it."""

    poured_g: float = 0.0
    flow_g_s: float = 0.0
    begun_at_g: float | None = None
    start_s: float | None = START_S

    @property
    def pouring(self) -> bool:
        return self.flow_g_s > 0

    @property
    def pours(self) -> tuple[Any, ...]:
        """The pours that are over: they end where the one that runs began, or at the weight now."""
        done_g = self.begun_at_g if self.pouring else self.poured_g
        return (SimpleNamespace(to_g=done_g),) if done_g else ()


def told(moment: Moment, target: Target | None, clock_s: float) -> Guide:
    return guide(moment, target, START_S + clock_s)  # type: ignore[arg-type]  # all that is looked at


# clock, on the scale, flow, weight when this pour began -> word, stage, grams to go, seconds until, pace
TABLE = {
    "bloom begins": (1.0, 4.0, 5.0, 0.0, "pour", "bloom", 41.0, None, "good"),
    "bloom, too fast": (4.0, 26.0, 6.6, 0.0, "pour", "bloom", 19.0, None, "slower"),
    "bloom, too slow": (8.0, 26.0, 3.2, 0.0, "pour", "bloom", 19.0, None, "faster"),
    "at the edge of the tolerance": (4.0, 20.0, 6.0, 0.0, "pour", "bloom", 25.0, None, "good"),
    "one second before the weight": (9.0, 40.0, 5.0, 0.0, "pour", "bloom", 5.0, None, "good"),
    "hand and scale need 0.7 s": (9.4, 41.6, 5.0, 0.0, "stop", "bloom", 3.4, None, "good"),
    "poured on over the bloom": (11.0, 50.0, 5.0, 0.0, "stop", "bloom", -5.0, None, "good"),
    "bloom rests": (20.0, 45.4, 0.0, None, "wait", "pour 1", 94.6, 20.0, ""),
    "a little short counts as done": (20.0, 43.5, 0.0, None, "wait", "pour 1", 96.5, 20.0, ""),
    "far short does not": (20.0, 30.0, 0.0, None, "pour", "bloom", 15.0, -20.0, ""),
    "pour 1 is due": (40.0, 45.0, 0.0, None, "pour", "pour 1", 95.0, 0.0, ""),
    "pour 1 is late": (47.0, 45.0, 0.0, None, "pour", "pour 1", 95.0, -7.0, ""),
    "pour 1 begun early": (35.0, 50.0, 6.0, 45.0, "pour", "pour 1", 90.0, None, "good"),
    "bloom poured on until pour 1 is due": (38.0, 60.0, 6.0, 0.0, "pour", "pour 1", 80.0, None, "good"),
    "no flow planned, no pace": (82.0, 150.0, 9.0, 140.0, "pour", "pour 2", 90.0, None, ""),
    "over the end": (100.0, 243.0, 5.0, 140.0, "stop", "pour 2", -3.0, None, ""),
    "more after all is in": (120.0, 246.0, 5.0, 241.0, "stop", None, -6.0, None, ""),
    "running dry": (100.0, 240.0, 0.0, None, "wait", None, None, 50.0, ""),
    "over": (151.0, 240.0, 0.0, None, "done", None, None, None, ""),
}


@pytest.mark.parametrize("name", TABLE)
def test_pour_over(name: str) -> None:
    clock_s, poured_g, flow_g_s, begun_at_g, word, stage, to_go_g, in_s, pace = TABLE[name]
    found = told(Moment(poured_g, flow_g_s, begun_at_g), POUR_OVER, clock_s)
    assert found.word == word
    assert (found.stage.name if found.stage else None) == stage
    assert found.to_go_g == (to_go_g if to_go_g is None else pytest.approx(to_go_g))
    assert found.in_s == (in_s if in_s is None else pytest.approx(in_s))
    assert found.pace == pace
    assert found.clock_s == pytest.approx(clock_s)
    assert found.poured_g == poured_g


# seconds since the first drip, in the cup, flow -> word, grams to go
SHOTS = {
    "running": (10.0, 12.0, 1.5, "wait", 24.0),
    "half a second before": (22.0, 35.2, 1.5, "stop", 0.8),
    "running over": (26.0, 38.0, 1.5, "stop", -2.0),
    "over": (30.0, 36.3, 0.0, "done", -0.3),
    "too little so far": (30.0, 30.0, 0.0, "wait", 6.0),
}


@pytest.mark.parametrize("name", SHOTS)
def test_espresso(name: str) -> None:
    clock_s, in_cup_g, flow_g_s, word, to_go_g = SHOTS[name]
    found = told(Moment(in_cup_g, flow_g_s), ESPRESSO, clock_s)
    assert (found.word, found.to_go_g) == (word, pytest.approx(to_go_g))
    assert found.stage is None and found.pace == ""


def test_before_the_first_water() -> None:
    assert told(Moment(start_s=None), POUR_OVER, 0.0) == Guide("ready", 0.0, 0.0, POUR_OVER.stages[0], 45.0)
    assert told(Moment(start_s=None), ESPRESSO, 0.0) == Guide("ready", 0.0, 0.0, None, 36.0)
    assert told(Moment(start_s=None), None, 0.0) == Guide("ready", 0.0, 0.0)


def test_without_a_target_it_only_says_what_is() -> None:
    assert told(Moment(31.0, 5.0), None, 6.0) == Guide("pour", 6.0, 31.0, flow_g_s=5.0)
    assert told(Moment(45.0), None, 20.0) == Guide("wait", 20.0, 45.0)


def test_without_an_end_a_brew_is_done_when_the_water_is_in() -> None:
    endless = Target("Endless", "pour-over", 15.0, stages=POUR_OVER.stages, tolerance=WITHIN)
    assert told(Moment(240.0), endless, 100.0).word == "done"

"""What follows a brew: which scale, what it says, and that its own faults do not end the recording."""

from __future__ import annotations

import asyncio
import io
import logging
import math

import pytest
from rich.console import Console

from drivers.reading import CELSIUS, GRAM, Reading, Status
from logger.commands.follow import FirstWater, Follower
from logger.guide import Cue, Verdict
from logger.show.terminal.live_screen import LiveScreen
from tests.logger.commands.small_brew import LIFTED_S, POURS, RATE_HZ, VESSEL_G, shown_g


def readings(channel: str, weights: list[float]) -> list[Reading]:
    return [Reading(channel, number / RATE_HZ, weight, GRAM) for number, weight in enumerate(weights)]


@pytest.fixture
def screen() -> LiveScreen:
    return LiveScreen(Console(file=io.StringIO(), width=80))


def written(screen: LiveScreen) -> list[str]:
    file = screen._console.file
    assert isinstance(file, io.StringIO)
    return file.getvalue().splitlines()


def test_a_brew_is_told_and_over(screen: LiveScreen) -> None:
    follower = Follower(None, [screen])
    over_at_s = None
    for reading in readings("scale", [*shown_g(LIFTED_S + 15.0)]):
        follower.push(reading)
        if follower.finished and over_at_s is None:
            over_at_s = reading.time_s
    assert over_at_s is not None and LIFTED_S + 8.0 < over_at_s < LIFTED_S + 12.0
    poured = [line for line in written(screen) if "poured" in line]
    assert [line[:6].strip() for line in poured] == ["0:00", "0:07"]
    assert "vessel off" in written(screen)[-1]


def test_what_is_not_over_is_said_at_the_end(screen: LiveScreen) -> None:
    follower = Follower(None, [screen])
    for reading in readings("scale", shown_g(POURS[0].end_s + 0.5)):
        follower.push(reading)
    assert written(screen) == []
    follower.finish()
    assert len(written(screen)) == 1 and "poured" in written(screen)[0]


class Seen:
    """A listener that keeps what it is given."""

    def __init__(self) -> None:
        self.cues: list[Cue] = []
        self.lines: list[str] = []

    def show(self, cue: Cue) -> None:
        self.cues.append(cue)

    def tell(self, text: str) -> None:
        self.lines.append(text)


class Broken(Seen):
    def show(self, cue: Cue) -> None:
        raise ZeroDivisionError


def test_the_scale_is_the_one_called_so_else_the_first() -> None:
    dosing, scale = readings("dosing", [15.0] * 60), readings("scale", shown_g(8.0))
    follower = Follower(None)
    follower.push(dosing[0])
    for one, other in zip(scale, dosing[1:], strict=False):
        follower.push(one)
        follower.push(other)
    for reading in scale[len(dosing) - 1 :]:
        follower.push(reading)
    follower.finish()
    assert [round(pour.poured_g) for pour in follower.live.pours] == [20]
    alone = Follower(None)
    for reading in readings("dosing", shown_g(8.0)):
        alone.push(reading)
    alone.finish()
    assert [round(pour.poured_g) for pour in alone.live.pours] == [20]


def test_every_listener_is_given_every_cue_and_every_line() -> None:
    seen, also = Seen(), Seen()
    follower = Follower(None, [seen, also])
    for reading in readings("scale", shown_g(LIFTED_S)):
        follower.push(reading)
    follower.push(Reading("kettle", LIFTED_S, 93.0, CELSIUS))
    assert len(seen.cues) == len(shown_g(LIFTED_S)) + 1
    assert seen.cues == also.cues and seen.lines == also.lines
    assert seen.cues[-1].water[0].water_c == 93.0
    assert [state.channel for state in seen.cues[-1].devices] == ["scale", "kettle"]


def test_between_two_readings_the_cues_go_on_with_the_wall_clock_and_the_speed() -> None:
    seen, now_s = Seen(), [100.0]
    follower = Follower(None, [seen], clock=lambda: now_s[0])
    for reading in readings("scale", shown_g(5.0)):
        follower.push(reading)
    last = seen.cues[-1]

    async def tick() -> None:
        shown = asyncio.Event()
        seen.show = lambda cue: (seen.cues.append(cue), shown.set())  # type: ignore[method-assign, assignment]
        ticking = asyncio.create_task(follower.ticking(speed=2.0))
        now_s[0] += 0.1
        await asyncio.wait_for(shown.wait(), 30.0)
        ticking.cancel()

    asyncio.run(tick())
    assert seen.cues[-1].time_s == pytest.approx(last.time_s + 0.2)
    assert seen.cues[-1].poured_g == pytest.approx(last.poured_g + 0.2 * last.flow_g_s)


def test_what_is_no_weight_is_passed_over(screen: LiveScreen) -> None:
    follower = Follower(None, [screen])
    follower.push(Reading("kettle", 0.0, 93.0, CELSIUS))
    follower.push(Reading("scale", 0.1, math.nan, GRAM, Status.OVERLOAD))
    assert follower.live.start_s is None and written(screen) == []


def test_a_lost_link_is_said_once_and_that_it_is_back_too(screen: LiveScreen) -> None:
    follower = Follower(None, [screen])
    for time_s in (3.0, 3.5, 4.5):  # a device that is called back and does not come, is lost again each time
        follower.push(Reading("kettle", time_s, math.nan, CELSIUS, Status.LOST))
    follower.push(Reading("kettle", 6.0, 92.0, CELSIUS))
    follower.push(Reading("kettle", 6.5, 92.0, CELSIUS))
    assert written(screen) == ["kettle: the link is lost", "kettle: the link is back"]


def test_a_listener_that_fails_is_left_out_and_the_others_go_on(caplog: pytest.LogCaptureFixture) -> None:
    seen = Seen()
    follower = Follower(None, [Broken(), seen])
    with caplog.at_level(logging.ERROR):
        for reading in readings("scale", shown_g(LIFTED_S + 15.0)):
            follower.push(reading)
    assert [record.message for record in caplog.records] == [
        "the brew is recorded on, but not shown everywhere"
    ]
    assert follower.finished and len(seen.cues) == len(shown_g(LIFTED_S + 15.0))


def test_a_fault_of_its_own_is_logged_once_and_ends_nothing(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    seen = Seen()
    follower = Follower(None, [seen])
    monkeypatch.setattr(follower.guide, "push", broken)
    follower._channel = "scale"
    with caplog.at_level(logging.ERROR):
        for reading in readings("scale", shown_g(LIFTED_S + 15.0)):
            follower.push(reading)
        follower.finish()
        follower.conclude(None)
    assert [record.message for record in caplog.records] == [
        "the brew is recorded on, but not guided: end it with Ctrl-C"
    ]
    assert not follower.finished and seen.cues == []


def test_while_it_waits_for_the_next_brew_it_shows_what_there_is_and_says_nothing() -> None:
    seen, verdict = Seen(), Verdict("3 of 3 stages inside.")
    waiting = FirstWater(None, [seen], before=verdict, brew=2)
    waiting.push(Reading("kettle", 0.0, 91.0, CELSIUS))
    for reading in readings("scale", [0.0] * 30):
        waiting.push(reading)
    assert not waiting.finished and seen.lines == []
    assert seen.cues[-1].phase == "waiting" and seen.cues[-1].verdict == verdict and seen.cues[-1].brew == 2


def test_the_next_brew_begins_with_a_vessel_or_with_water() -> None:
    def begins_at_s(weights: list[float]) -> float | None:
        first = FirstWater(None)
        for reading in readings("scale", weights):
            first.push(reading)
            if first.finished:
                return reading.time_s
        return None

    empty = [0.0] * 100
    assert begins_at_s(empty) is None
    assert begins_at_s([*empty, *[VESSEL_G] * 100]) == pytest.approx(10.0, abs=3.0)
    poured_s = begins_at_s(shown_g(LIFTED_S))
    assert poured_s is not None and 0.0 < poured_s - POURS[0].start_s < 2.0

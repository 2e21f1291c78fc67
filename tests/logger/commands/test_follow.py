"""What follows a brew: which scale, what it says, and that its own faults do not end the recording."""

from __future__ import annotations

import io
import logging
import math

import pytest
from rich.console import Console

from drivers.reading import CELSIUS, GRAM, Reading, Status
from logger.commands.follow import FirstWater, Follower, Pan
from logger.show.live_screen import LiveScreen
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
    follower = Follower(None, screen)
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
    follower = Follower(None, screen)
    for reading in readings("scale", shown_g(POURS[0].end_s + 0.5)):
        follower.push(reading)
    assert written(screen) == []
    follower.finish()
    assert len(written(screen)) == 1 and "poured" in written(screen)[0]


def test_the_scale_is_the_one_called_so_else_the_first() -> None:
    dosing, scale = readings("dosing", [15.0] * 60), readings("scale", shown_g(8.0))
    pan = Pan()
    pan.push(dosing[0])
    assert pan.push(scale[0]) is not None
    assert pan.push(dosing[1]) is None
    for reading in scale[1:]:
        pan.push(reading)
    pan.live.finish()
    assert [round(pour.poured_g) for pour in pan.live.pours] == [20]
    alone = Pan()
    assert all(alone.push(reading) is not None for reading in dosing)


def test_what_is_no_weight_is_passed_over(screen: LiveScreen) -> None:
    follower = Follower(None, screen)
    follower.push(Reading("kettle", 0.0, 93.0, CELSIUS))
    follower.push(Reading("scale", 0.1, math.nan, GRAM, Status.OVERLOAD))
    assert follower.live.start_s is None and written(screen) == []


def test_a_lost_link_is_said_once_and_that_it_is_back_too(screen: LiveScreen) -> None:
    follower = Follower(None, screen)
    for time_s in (3.0, 3.5, 4.5):  # a device that is called back and does not come, is lost again each time
        follower.push(Reading("kettle", time_s, math.nan, CELSIUS, Status.LOST))
    follower.push(Reading("kettle", 6.0, 92.0, CELSIUS))
    follower.push(Reading("kettle", 6.5, 92.0, CELSIUS))
    assert written(screen) == ["kettle: the link is lost", "kettle: the link is back"]


def test_a_fault_of_its_own_is_logged_once_and_ends_nothing(
    screen: LiveScreen, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(screen, "show", broken)
    follower = Follower(None, screen)
    with caplog.at_level(logging.ERROR):
        for reading in readings("scale", shown_g(LIFTED_S + 15.0)):
            follower.push(reading)
        follower.finish()
    assert [record.message for record in caplog.records] == [
        "the brew is recorded on, but not shown: end it with Ctrl-C"
    ]
    assert not follower.finished


def test_the_next_brew_begins_with_a_vessel_or_with_water() -> None:
    def begins_at_s(weights: list[float]) -> float | None:
        first = FirstWater()
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

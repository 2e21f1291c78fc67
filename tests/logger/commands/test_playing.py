"""A recording played as if it were happening: paused, sought in, and one pour of it again and again."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from itertools import pairwise

import pytest

from drivers.reading import Reading
from logger.commands.follow import Follower
from logger.commands.playing import Player
from logger.guide import Cue, CueListener
from logger.target import parse_target
from tests.logger.commands import small_brew

POURS = [(pour.start_s, pour.end_s) for pour in small_brew.POURS]
END_S = 20.0


class Screen:
    """Keeps what it is shown; presses a key when its moment has come."""

    def __init__(self) -> None:
        self.cues: list[Cue] = []
        self.told: list[str] = []
        self.past: list[Cue] = []
        self.press: list[tuple[float, Callable[[], None]]] = []

    def show(self, cue: Cue) -> None:
        self.cues.append(cue)
        while self.press and cue.time_s >= self.press[0][0]:
            self.press.pop(0)[1]()

    def tell(self, text: str) -> None:
        self.told.append(text)

    @property
    def times_s(self) -> list[float]:
        return [cue.time_s for cue in self.cues]


@pytest.fixture(scope="module")
def readings() -> list[Reading]:
    shown_g = small_brew.shown_g(END_S, None)
    return [Reading("scale", number / 10, weight_g, "g") for number, weight_g in enumerate(shown_g)]


def player_of(readings: list[Reading], screen: Screen, speed: float = 32.0) -> Player:
    target = parse_target(small_brew.TARGET, "two small pours.toml")

    def follower(listeners: Sequence[CueListener], clock: Callable[[], float], number: int) -> Follower:
        return Follower(target, listeners, ends=False, brew=number, clock=clock)

    return Player(readings, follower, [screen], pours=POURS, speed=speed, past=[screen.past.append])


async def test_all_of_it_is_played_in_order(readings: list[Reading]) -> None:
    screen = Screen()
    player = player_of(readings, screen, float("inf"))
    await player.play()
    assert screen.times_s == sorted(screen.times_s)
    assert screen.times_s[-1] == readings[-1].time_s
    assert len(player.follower.live.pours) == 2
    assert player.is_over


async def test_a_jump_back_guides_anew_and_says_nothing_on_the_way(readings: list[Reading]) -> None:
    screen = Screen()
    player = player_of(readings, screen)
    screen.press = [(12.0, lambda: player.seek(7.0)), (14.0, lambda: player.press("q"))]
    await player.play()
    (back,) = [place for place, (one, two) in enumerate(pairwise(screen.times_s)) if two < one]
    assert screen.times_s[back + 1] == pytest.approx(7.0, abs=0.11)
    assert screen.cues[back].brew != screen.cues[back + 1].brew
    assert screen.past[0].time_s == 0.0  # what leads there belongs to the curve
    assert screen.past[-1] == screen.cues[back + 1]
    assert not player.is_over


async def test_a_jump_on_leads_to_what_had_been_reached_there(readings: list[Reading]) -> None:
    screen, straight = Screen(), Screen()
    await player_of(readings, straight, float("inf")).play()
    player = player_of(readings, screen)
    player.seek(12.0)
    screen.press = [(12.0, lambda: player.press("q"))]
    await player.play()
    first = screen.cues[0]
    same = next(cue for cue in straight.cues if cue.time_s == first.time_s)
    assert (first.phase, first.poured_g, first.clock_s) == (same.phase, same.poured_g, same.clock_s)


async def test_a_pour_is_played_again_and_again(readings: list[Reading]) -> None:
    screen = Screen()
    player = player_of(readings, screen)
    player.loop_pour_at(POURS[1][0])

    playing = asyncio.create_task(player.play())
    while player.head.jumps < 3:  # noqa: ASYNC110  # the loop tells nobody that it begins again
        await asyncio.sleep(0.01)
    player.press("q")
    await playing
    assert min(screen.times_s) == pytest.approx(POURS[1][0] - 3.0, abs=0.2)
    assert max(screen.times_s) <= END_S
    assert sum(two < one for one, two in pairwise(screen.times_s)) >= 2


async def test_paused_nothing_happens_until_it_goes_on(readings: list[Reading]) -> None:
    screen = Screen()
    player = player_of(readings, screen)
    screen.press = [(3.0, lambda: player.press(" "))]
    playing = asyncio.create_task(player.play())
    while not player.head.paused:  # noqa: ASYNC110  # pressed by the screen
        await asyncio.sleep(0.01)
    await asyncio.sleep(0.05)
    seen = len(screen.cues)
    await asyncio.sleep(0.1)
    assert len(screen.cues) == seen
    screen.press = [(5.0, lambda: player.press("q"))]
    player.press(" ")
    await playing
    assert "paused" in screen.told[0]


def test_keys_say_where_the_replay_stands(readings: list[Reading]) -> None:
    screen = Screen()
    player = player_of(readings, screen, 8.0)
    for key in ("up", "n", "l", "l", "x"):
        player.press(key)
    assert len(screen.told) == 4  # a key that is none says nothing
    assert "16 times" in screen.told[0]
    assert screen.told[1].startswith(("replay: 0:06 of 0:20", "replay: 0:07 of 0:20"))
    assert screen.told[2].endswith("again and again")
    assert not screen.told[3].endswith("again and again")

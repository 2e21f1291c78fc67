"""A device that comes back: waits, gaps, counters, and what is raised at once."""

from __future__ import annotations

import asyncio
import math
from collections.abc import AsyncIterator
from types import TracebackType
from typing import Self

import pytest

from drivers import ChannelNames, DeviceLostError, DeviceNotFoundError, DeviceSilentError, Reading, Status
from drivers.supervised import Patience, Supervised


class Bench:
    """A clock that only sleeping moves, and a device that follows a script.

    Each opening takes the next entry of the script: an error to refuse with, or weights followed by an error
    (the link breaks) or by nothing (the device has no more).
    """

    def __init__(self, *script: list[object]) -> None:
        self.now_s = 100.0
        self.script = list(script)
        self.waits: list[float] = []
        self.open = 0

    def clock(self) -> float:
        return self.now_s

    async def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.now_s += seconds

    def device(self, patience: Patience | None = None, chance: float = 0.5) -> Supervised:
        return Supervised(
            "script:bench",
            None,
            patience,
            opener=lambda address, names: Scripted(self, address),
            clock=self.clock,
            sleep=self.sleep,
            chance=lambda: chance,
        )


class Scripted:
    can_tare = False
    paced = 1.0

    def __init__(self, bench: Bench, address: str) -> None:
        self.bench, self.address = bench, address
        self.lines = 0
        self.steps: list[object] = []

    async def __aenter__(self) -> Self:
        self.steps = self.bench.script.pop(0) if self.bench.script else [refusal()]
        if isinstance(self.steps[0], DeviceNotFoundError):
            raise self.steps[0]
        self.bench.open += 1
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.steps and not isinstance(self.steps[0], DeviceNotFoundError):
            self.bench.open -= 1
            self.steps = []

    async def __aiter__(self) -> AsyncIterator[Reading]:
        for step in list(self.steps):
            if isinstance(step, Exception):
                raise step
            assert isinstance(step, float)
            self.lines += 1
            self.bench.now_s += 0.1
            yield Reading("scale", self.bench.now_s, step, "g")

    async def tare(self) -> None:
        raise NotImplementedError

    def facts(self) -> dict[str, object]:
        return {"driver": "script", "baud": 9600, "lines_read": self.lines}


def lost() -> DeviceLostError:
    return DeviceLostError("script:bench", "the link is gone", "Plug it in.")


def silent() -> DeviceSilentError:
    return DeviceSilentError("script:bench", "nothing came for 10 s", "Wake it.")


def refusal() -> DeviceNotFoundError:
    return DeviceNotFoundError("script:bench", "there is no such port", "Plug it in.")


async def read_all(device: Supervised) -> list[Reading]:
    async with device:
        return [reading async for reading in device]


async def test_a_link_that_returns_goes_on_with_a_gap_between() -> None:
    bench = Bench([1.0, 2.0, lost()], [3.0])
    readings = await read_all(bench.device())
    assert [reading.value for reading in readings if reading.status.has_value] == [1.0, 2.0, 3.0]
    assert [reading.status for reading in readings] == [Status.UNKNOWN] * 2 + [Status.LOST] + [Status.UNKNOWN]
    assert math.isnan(readings[2].value)
    assert bench.open == 0


async def test_a_silent_link_is_a_lost_link() -> None:
    bench = Bench([1.0, silent()], [2.0])
    readings = await read_all(bench.device())
    assert [reading.status for reading in readings] == [Status.UNKNOWN, Status.LOST, Status.UNKNOWN]


async def test_waits_double_up_to_a_bound() -> None:
    bench = Bench([1.0, lost()], *([refusal()] for _ in range(7)), [2.0])
    await read_all(bench.device(Patience(first_s=0.5, longest_s=8.0)))
    assert bench.waits == [0.5, 1.0, 2.0, 4.0, 8.0, 8.0, 8.0, 8.0]


async def test_waits_differ_by_chance_within_their_share() -> None:
    patience = Patience(first_s=1.0, jitter=0.25)
    assert patience.wait_s(0, 0.0) == pytest.approx(0.75)
    assert patience.wait_s(0, 1.0) == pytest.approx(1.25)
    assert patience.wait_s(10_000, 0.5) == patience.longest_s


async def test_waits_begin_anew_after_data_not_after_a_mere_connection() -> None:
    bench = Bench([1.0, lost()], [lost()], [lost()], [2.0, lost()], [3.0])
    await read_all(bench.device(Patience(first_s=1.0)))
    assert bench.waits == [1.0, 2.0, 4.0, 1.0]


async def test_each_failed_attempt_says_so_for_every_channel() -> None:
    bench = Bench([1.0, lost()], [refusal()], [refusal()], [2.0])
    readings = await read_all(bench.device())
    assert [reading.status for reading in readings].count(Status.LOST) == 3
    times = [reading.time_s for reading in readings]
    assert times == sorted(times)


async def test_who_is_away_for_too_long_is_given_up() -> None:
    bench = Bench([1.0, lost()])
    with pytest.raises(DeviceLostError, match="did not come back within"):
        await read_all(bench.device(Patience(give_up_s=60.0)))
    assert 160.0 < bench.now_s < 180.0
    assert bench.open == 0


async def test_what_never_opened_is_the_users_to_put_right() -> None:
    with pytest.raises(DeviceNotFoundError):
        await read_all(Bench([refusal()]).device())


async def test_a_link_that_breaks_before_anything_came_is_not_called_back() -> None:
    bench = Bench([lost()], [1.0])
    with pytest.raises(DeviceLostError):
        await read_all(bench.device())
    assert bench.waits == []


async def test_facts_sum_the_counters_and_tell_the_outages() -> None:
    bench = Bench([1.0, 2.0, lost()], [refusal()], [3.0])
    device = bench.device()
    await read_all(device)
    facts = device.facts()
    assert (facts["baud"], facts["lines_read"]) == (9600, 3)
    (outage,) = facts["outages"]  # type: ignore[misc]
    assert outage["why"] == "the link is gone"
    assert outage["attempts"] == 2
    assert outage["since_s"] < outage["until_s"]
    assert device.state == "linked"


async def test_cancellation_while_it_waits_leaves_nothing_open() -> None:
    bench = Bench([1.0, lost()])
    device = bench.device()
    device._sleep = asyncio.sleep  # a real wait, to be cancelled in
    task = asyncio.create_task(read_all(device))
    await asyncio.sleep(0.05)
    assert device.state == "lost"
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert bench.open == 0


def test_it_stands_for_the_device_that_it_watches() -> None:
    device = Supervised("simulated:nowhere.toml?speed=8", ChannelNames(weight="server"))
    assert (device.address, device.paced, device.can_tare) == ("simulated:nowhere.toml?speed=8", 8.0, True)


@pytest.mark.parametrize("chance", [0.0, 0.5, 1.0])
async def test_no_wait_runs_past_the_limit(chance: float) -> None:
    bench = Bench([1.0, lost()])
    with pytest.raises(DeviceLostError, match="did not come back within 15 s"):
        await read_all(bench.device(Patience(give_up_s=15.0), chance))
    assert bench.now_s == pytest.approx(100.1 + 15.0)


async def test_the_last_attempt_falls_on_the_limit_and_may_succeed() -> None:
    bench = Bench([1.0, lost()], [refusal()], [2.0])
    readings = await read_all(bench.device(Patience(first_s=2.0, give_up_s=3.0)))
    assert readings[-1].value == 2.0
    assert bench.waits == pytest.approx([2.0, 1.0])

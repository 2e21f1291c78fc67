"""A scale that is examined: a load that does not come, a link that goes, a scale with no more to give."""

from __future__ import annotations

import asyncio
import io
import math
from collections.abc import AsyncIterator, Sequence

import pytest
from rich.console import Console

from drivers import DeviceSilentError, Reading, Status
from logger.commands import testing, watching
from logger.commands.links import Links
from logger.errors import FailureError


class Pan:
    """A scale with nothing on it, which then waits, ends or fails."""

    address = "script:pan"

    def __init__(self, then: str, statuses: Sequence[Status] = ()) -> None:
        self.then, self.statuses = then, statuses

    async def __aiter__(self) -> AsyncIterator[Reading]:
        for number in range(60):
            yield Reading("scale", 0.1 * number, 0.0, "g", Status.STABLE)
        for status in self.statuses:
            yield Reading("scale", 6.0, 0.0 if status.has_value else math.nan, "g", status)
        if self.then == "waits":
            await asyncio.sleep(60.0)
        if self.then == "falls silent":
            raise DeviceSilentError(self.address, "nothing came for 10 s", "Wake it.")


async def _led(pan: Pan) -> str:
    out = io.StringIO()
    console = Console(file=out, width=100)
    try:
        await testing._lead(pan, testing.Steps([100.0], 1), asyncio.Event(), console)  # type: ignore[arg-type]  # a pan is all that is read
    finally:
        pan.said = out.getvalue()  # type: ignore[attr-defined]  # for the test to look at
    return out.getvalue()


async def test_a_load_that_does_not_come_is_one_message(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(testing, "STEP_PATIENCE_S", 0.2)
    with pytest.raises(FailureError, match=r"script:pan: a load of 100 g did not come within"):
        await _led(Pan("waits"))


async def test_a_scale_that_ends_before_its_load_says_so() -> None:
    with pytest.raises(FailureError, match="no more to give before a load of 100 g came"):
        await _led(Pan("ends"))


async def test_a_silent_scale_is_told_as_such_and_not_as_a_load_that_did_not_come() -> None:
    with pytest.raises(DeviceSilentError, match="nothing came for 10 s"):
        await _led(Pan("falls silent"))


async def test_a_lost_link_is_said_once() -> None:
    pan = Pan("ends", [Status.LOST, Status.LOST, Status.STABLE])
    with pytest.raises(FailureError):
        await _led(pan)
    said = pan.said  # type: ignore[attr-defined]  # kept by _led
    assert said.count("scale: the link is lost") == 1
    assert said.count("scale: the link is back") == 1


async def test_watching_says_that_the_link_is_lost() -> None:
    out = io.StringIO()
    await watching._watch(Pan("ends", [Status.LOST, Status.LOST]), {}, Console(file=out, width=100))  # type: ignore[arg-type]  # a pan is all that is read
    assert out.getvalue().count("scale: the link is lost") == 1


def test_nothing_is_said_of_a_link_that_holds() -> None:
    links = Links()
    assert links.push(Reading("scale", 0.0, 1.0, "g", Status.STABLE)) is None


def test_both_commands_wait_a_quarter_of_a_minute_for_a_lost_device(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[float] = []

    def device_at(address: str, names: object = None, patience: object = None) -> object:
        asked.append(patience.give_up_s)  # type: ignore[attr-defined]  # must be one
        raise FailureError(address, "is not needed", "Go on.")

    console = Console(file=io.StringIO())
    for module in (testing, watching):
        monkeypatch.setattr(module, "device_at", device_at)
    with pytest.raises(FailureError):
        asyncio.run(watching.watch_device("script:pan", None, console))
    with pytest.raises(FailureError):
        asyncio.run(testing.test_scale("script:pan", [100.0], 1, None, console, as_json=False))
    assert asked == [15.0, 15.0]

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from pathlib import Path

import pytest

from drivers.reading import Reading
from logger.recording import Journal, Meta
from logger.recording.descriptor import Descriptor, digest, write_descriptor


def readings(count: int, channel: str = "scale", step_s: float = 0.1) -> list[Reading]:
    return [Reading(channel, round(n * step_s, 6), n / 10, "g") for n in range(count)]


@pytest.fixture
def write_recording(tmp_path: Path):
    """Write a recording as the recorder does, closed or not."""

    def write(
        lines: Iterable[Reading], meta: Meta | None = None, complete: bool = True, name: str = "brew"
    ) -> Path:
        folder = tmp_path / name
        folder.mkdir(parents=True)
        with Journal(folder / "readings.csv") as journal:
            for reading in lines:
                journal.append(reading)
        data = (folder / "readings.csv").read_bytes()
        meta = meta or Meta(title="Brew", complete=complete)
        closed = (len(data), digest(data)) if complete else (None, None)
        write_descriptor(folder, name, Descriptor(meta, *closed))
        return folder

    return write


class FakeDevice:
    """A device in memory.

    It gives its readings, then does what ``then`` says: ends, raises it, or stays silent for ever.
    """

    can_tare = False

    def __init__(
        self,
        given: Iterable[Reading] = (),
        *,
        then: str | Exception = "end",
        paced: float = 1.0,
        address: str = "fake:one",
        opening: Exception | None = None,
        pause_s: float = 0.0,
    ) -> None:
        self.given, self.then, self.paced, self.address = list(given), then, paced, address
        self.opening, self.pause_s = opening, pause_s
        self.is_open = False
        self.was_opened = 0

    async def __aenter__(self) -> FakeDevice:
        await asyncio.sleep(0)
        if self.opening:
            raise self.opening
        self.is_open = True
        self.was_opened += 1
        return self

    async def __aexit__(self, *_: object) -> None:
        self.is_open = False

    async def __aiter__(self):
        for reading in self.given:
            if self.pause_s:
                await asyncio.sleep(self.pause_s)
            yield reading
        if isinstance(self.then, Exception):
            raise self.then
        if self.then == "silence":
            await asyncio.Event().wait()

    async def tare(self) -> None:
        raise NotImplementedError

    def facts(self) -> dict[str, object]:
        return {"driver": "fake", "lines_rejected": 3, "port": Path("/dev/null"), "noise": float("nan")}


class Follower:
    """A listener that keeps what it was given, and is finished after ``until`` readings."""

    def __init__(self, until: float = float("inf")) -> None:
        self.seen: list[Reading] = []
        self.until = until

    def push(self, reading: Reading) -> None:
        self.seen.append(reading)

    @property
    def finished(self) -> bool:
        return len(self.seen) >= self.until


@pytest.fixture
def fake_device() -> type[FakeDevice]:
    return FakeDevice


@pytest.fixture
def follower() -> type[Follower]:
    return Follower


@pytest.fixture
def some_readings():
    return readings


@pytest.fixture
async def no_task_left_behind():
    yield
    others = asyncio.all_tasks() - {asyncio.current_task()}
    assert not others, f"tasks left behind: {others}"

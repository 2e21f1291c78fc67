"""A long recording on a bench where everything goes wrong: nothing sent while linked may be missing.

It takes its time, for it runs a real port in real time: a minute with one fault of each kind. The whole,
ten minutes with thirty faults, runs with ``EVENCUP_SOAK_S=600``.
"""

from __future__ import annotations

import asyncio
import os
import random
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drivers import ChannelNames, Status
from drivers.supervised import Patience, Supervised
from logger.compare import assess
from logger.curve.readings.sampling import sampling_times
from logger.recording import Meta, Recorder, Recording
from tests.peers.pty_instrument import PtyInstrument

pytestmark = pytest.mark.long

SECONDS = float(os.environ.get("EVENCUP_SOAK_S", "68"))
FAULTS = 30 if SECONDS >= 600 else 7
SPACING_S = (SECONDS - 6.0) / FAULTS
KINDS = ("drop", "garbage", "freeze", "replug", "clock", "unit", "overload")
RATE_HZ = 10.0
POUR_G, POUR_S = 30.0, 3.0
SILENT_S = 2.0


def load_g(since_s: float) -> float:
    """One pour of 30 g in 3 s after each fault has passed, with a rest before the next."""
    if since_s <= 1.0:
        return 0.0
    done, within = divmod(since_s - 1.0, SPACING_S)
    return min(POUR_G * (done + min(within / POUR_S, 1.0)), POUR_G * FAULTS)


class Bench:
    """A balance on a real pseudo-terminal behind a name that stays, and a script of faults."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self.good: list[float] = []
        self.told: list[tuple[str, float]] = []
        self.wall_jump = timedelta()
        self._chance = random.Random(30)
        self._stop = threading.Event()
        self._zero_g = 0.0
        self.instrument = self._plugged_in()
        self.thread = threading.Thread(target=self._run, name="bench", daemon=True)

    def _plugged_in(self) -> PtyInstrument:
        instrument = PtyInstrument()
        self.name.unlink(missing_ok=True)
        self.name.symlink_to(instrument.port)
        return instrument

    def close(self) -> None:
        self._stop.set()
        self.thread.join()
        self.instrument.unplug()

    def _run(self) -> None:
        while not self.instrument.listened_to():
            time.sleep(0.01)
        time.sleep(0.4)
        start_s = time.monotonic()
        faults = [
            (1.0 + POUR_S + 0.8 + SPACING_S * number, KINDS[number % len(KINDS)]) for number in range(FAULTS)
        ]
        sent = 0
        while not self._stop.is_set():
            now_s = time.monotonic() - start_s
            if now_s > SECONDS:
                return
            if faults and now_s >= faults[0][0]:
                _, kind = faults.pop(0)
                self.told.append((kind, now_s))
                self._fault(kind, start_s)
                sent = int((time.monotonic() - start_s) * RATE_HZ) + 1
            if now_s >= sent / RATE_HZ:
                self._send(load_g(sent / RATE_HZ))
                sent += 1
            time.sleep(0.004)

    def _send(self, weight_g: float, unit: str = "g") -> None:
        if not self.instrument.listened_to():
            return
        shown = round(weight_g - self._zero_g, 1)
        value, factor = (shown, 1.0) if unit == "g" else (round(shown / 28.349523125, 3), 28.349523125)
        sign = "-" if value < 0 else "+"
        line = f"ST,GS,{sign}{abs(value):9.{1 if unit == 'g' else 3}f} {unit}\r\n"
        self.instrument.write(line.encode("ascii"))
        self.good.append(value * factor)

    def _fault(self, kind: str, start_s: float) -> None:
        here_g = load_g(time.monotonic() - start_s)
        actions: dict[str, Callable[[], None]] = {
            "drop": lambda: time.sleep(0.5),
            "garbage": lambda: self.instrument.write(self._chance.randbytes(90) + b"ST,GS,+ 9\r\n"),
            "freeze": lambda: time.sleep(SILENT_S + 0.7),
            "replug": lambda: self._replug(here_g),
            "clock": self._step_wall_clock,
            "unit": lambda: self._in_another_unit(here_g),
            "overload": lambda: self.instrument.write(b"OL,GS,+  9999.9 g\r\n"),
        }
        actions[kind]()
        if kind == "freeze":
            # The recorder opens the port again; what is sent before it has is nobody's.
            self._await_listener()

    def _replug(self, here_g: float) -> None:
        """Pull the cable; the scale, powered by it, starts again at zero."""
        time.sleep(0.3)
        self.instrument.unplug()
        time.sleep(0.5)
        self._zero_g = here_g
        self.instrument = self._plugged_in()
        self._await_listener()

    def _await_listener(self) -> None:
        deadline_s = time.monotonic() + 10.0
        while not self.instrument.listened_to() and time.monotonic() < deadline_s:
            time.sleep(0.01)
        time.sleep(0.4)

    def _step_wall_clock(self) -> None:
        self.wall_jump += timedelta(hours=1)

    def _in_another_unit(self, here_g: float) -> None:
        for _ in range(5):
            self._send(here_g, "oz")
            time.sleep(0.1)


@pytest.fixture(scope="module")
def soaked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Recording, Bench]:
    folder = tmp_path_factory.mktemp("soak")
    bench = Bench(folder / "scale")

    async def record() -> Path:
        device = Supervised(
            f"serial:{bench.name}?baud=9600&silent_s={SILENT_S}",
            ChannelNames(),
            Patience(first_s=0.1, longest_s=0.5, give_up_s=30.0),
        )
        now = lambda: datetime.now(UTC) + bench.wall_jump  # noqa: E731
        async with Recorder([device], sampling_times=sampling_times, now=now) as recorder:
            bench.thread.start()
            meta = Meta(title="thirty faults")
            return (await recorder.record_one(folder / "into", meta, for_s=SECONDS + 1.0)).path

    try:
        path = asyncio.run(record())
    finally:
        bench.close()
    return Recording.open(path), bench


def test_every_good_reading_sent_while_linked_is_there(soaked: tuple[Recording, Bench]) -> None:
    recording, bench = soaked
    _, weight_g = recording.arrays("scale")
    missing = len(bench.good) - len(weight_g)
    assert missing == 0
    assert weight_g == pytest.approx(bench.good, abs=1e-6)


def test_the_water_in_all_is_right(soaked: tuple[Recording, Bench]) -> None:
    recording, _ = soaked
    brew = assess(recording)
    assert len(brew.analysis.pours) == FAULTS
    assert brew.analysis.total_g == pytest.approx(POUR_G * FAULTS, abs=0.5)


def test_what_happened_is_told_when_it_happened(soaked: tuple[Recording, Bench]) -> None:
    recording, bench = soaked
    rows = recording.channel("scale")
    lost_s = rows["time_s"][rows["status"] == Status.LOST.value].tolist()
    over_s = rows["time_s"][rows["status"] == Status.OVERLOAD.value].tolist()
    for kind, at_s in bench.told:
        if kind in ("freeze", "replug"):
            assert any(at_s - 0.5 < lost < at_s + SILENT_S + 1.5 for lost in lost_s), (kind, at_s, lost_s)
        if kind == "overload":
            assert any(abs(over - at_s) < 1.0 for over in over_s), (at_s, over_s)
    outages = sum(kind in ("freeze", "replug") for kind, _ in bench.told)
    assert sum("the link was lost" in problem for problem in recording.problems) == outages
    (device,) = recording.meta.devices
    assert len(device["outages"]) == outages
    assert device["lines_rejected"] >= sum(kind == "garbage" for kind, _ in bench.told)


def test_the_hosts_wall_clock_does_not_reach_the_times(soaked: tuple[Recording, Bench]) -> None:
    recording, bench = soaked
    assert bench.wall_jump >= timedelta(hours=1)
    times = recording.channel("scale")["time_s"]
    assert times.is_monotonic_increasing
    assert times.max() < SECONDS + 5.0

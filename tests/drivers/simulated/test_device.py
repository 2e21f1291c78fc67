"""The simulated brew as a device: its pace, its end, its tare, its errors."""

import asyncio
import json
import math
from collections.abc import Callable
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.device import ChannelNames, open_device
from drivers.errors import AddressError, DeviceDeniedError, DeviceNotFoundError
from drivers.reading import GRAM, Reading
from drivers.simulated import PRESETS, read_plan, simulate
from drivers.simulated.device import SimulatedDevice, open_simulated

TARGET = '[shot]\nyield_g = 36\ntime = ["0:25", "0:30"]\n'
FILTER = "dose_g = 15\nend = 40\n[[stage]]\nstart = 0\nto_g = 100\n"


class FakeClock:
    """A clock that only sleeping moves on, and that wakes a little late as real ones do."""

    def __init__(self, late_s: float = 0.0) -> None:
        self.now_s, self.late_s = 1000.0, late_s
        self.slept: list[float] = []

    def __call__(self) -> float:
        return self.now_s

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now_s += seconds + (self.late_s if seconds > 0 else 0.0)
        await asyncio.sleep(0)


@pytest.fixture
def target(tmp_path: Path) -> Path:
    path = tmp_path / "target.toml"
    path.write_text(TARGET, encoding="utf-8")
    return path


def _device(target: Path, clock: FakeClock, speed: float = 1.0, seed: int = 3) -> SimulatedDevice:
    return SimulatedDevice("simulated:x", target, seed, speed=speed, clock=clock, sleep=clock.sleep)


async def _all(device: SimulatedDevice, seen: Callable[[Reading], None] = lambda _: None) -> list[Reading]:
    readings = []
    async with device:
        async for reading in device:
            readings.append(reading)
            seen(reading)
    return readings


async def test_it_gives_the_brew_and_ends_with_it(target: Path) -> None:
    clock = FakeClock()
    readings = await _all(_device(target, clock))
    expected = simulate(read_plan(target), 3).readings
    assert [(r.channel, r.value) for r in readings] == [(r.channel, r.value) for r in expected]
    assert [r.time_s - 1000.0 for r in readings] == pytest.approx([r.time_s for r in expected])


@pytest.mark.parametrize("speed", [0.5, 1.0, 8.0])
async def test_each_reading_comes_when_it_is_due(target: Path, speed: float) -> None:
    """A sleep that is always 3 ms late must not add up over hundreds of readings."""
    clock = FakeClock(late_s=0.003)
    late_s: list[float] = []

    def seen(reading: Reading) -> None:
        late_s.append(clock.now_s - 1000.0 - (reading.time_s - 1000.0) / speed)

    readings = await _all(_device(target, clock, speed), seen)
    assert len(readings) > 100
    assert min(late_s) >= -1e-9
    assert max(late_s) < 0.01


async def test_the_time_axis_is_not_compressed_by_the_speed(target: Path) -> None:
    slow, fast = [await _all(_device(target, FakeClock(), speed)) for speed in (1.0, 50.0)]
    assert [r.time_s for r in slow] == [r.time_s for r in fast]


async def test_as_fast_as_possible_waits_for_nothing_and_gives_way(target: Path) -> None:
    clock = FakeClock()
    device = _device(target, clock, math.inf)
    readings = await _all(device)
    assert device.paced == math.inf
    assert clock.now_s == 1000.0
    assert len(clock.slept) >= len(readings) // 64
    assert set(clock.slept) <= {0.0}


async def test_a_real_clock_and_a_high_speed(target: Path) -> None:
    device = open_device(f"simulated:{target}?speed=400&seed=1&level=easy")
    loop = asyncio.get_running_loop()
    async with device, asyncio.timeout(5):
        begun_s = loop.time()
        readings = [reading async for reading in device]
        took_s = loop.time() - begun_s
    assert took_s == pytest.approx((readings[-1].time_s - readings[0].time_s) / 400, abs=0.15)


async def test_a_tare_sets_later_readings_to_zero(target: Path) -> None:
    device = SimulatedDevice("simulated:x", target, 0, PRESETS["clean"], speed=math.inf)
    plain = simulate(read_plan(target), 0, PRESETS["clean"]).readings
    seen: list[float] = []
    async with device:
        async for reading in device:
            seen.append(reading.value)
            if len(seen) == 200:
                await device.tare()
    assert seen[:200] == [reading.value for reading in plain[:200]]
    zero_g = plain[199].value
    assert zero_g > 5.0
    assert seen[200:] == pytest.approx([reading.value - zero_g for reading in plain[200:]])
    assert all(value == round(value, 2) for value in seen)
    assert device.facts()["tares"] == 1


async def test_cancelling_ends_it(target: Path) -> None:
    device = _device(target, FakeClock())
    device._sleep = asyncio.sleep
    task = asyncio.create_task(_all(device))
    await asyncio.sleep(0.05)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert [reading async for reading in device] == []


async def test_it_must_be_open(target: Path) -> None:
    with pytest.raises(RuntimeError, match="async with"):
        _device(target, FakeClock()).__aiter__()


async def test_the_channels_are_named_as_asked(tmp_path: Path) -> None:
    path = tmp_path / "filter.toml"
    path.write_text(FILTER, encoding="utf-8")
    device = open_device(f"simulated:{path}?speed=max", ChannelNames(weight="server"))
    async with device:
        channels = {reading.channel async for reading in device}
    assert channels == {"server", "kettle", "slurry"}


async def test_facts_say_what_was_simulated(target: Path) -> None:
    device = open_device(f"simulated:{target}?seed=4&level=hard&speed=max&rate_hz=20&step_g=0.5")
    assert device.can_tare
    async with device:
        values = [reading.value async for reading in device if reading.unit == GRAM]
    facts = device.facts()
    assert (facts["driver"], facts["seed"], facts["level"]) == ("simulated", 4, "hard")
    instrument = facts["instrument"]
    assert isinstance(instrument, dict)
    assert (instrument["rate_hz"], instrument["step_g"]) == (20.0, 0.5)
    assert all((value * 2).is_integer() for value in values)
    assert json.loads(json.dumps(facts))["title"] == "untitled"


async def test_a_missing_target_is_named(tmp_path: Path) -> None:
    with pytest.raises(DeviceNotFoundError, match=r"nowhere\.toml"):
        async with open_device(f"simulated:{tmp_path / 'nowhere.toml'}"):
            pass


async def test_a_folder_is_no_target(tmp_path: Path) -> None:
    with pytest.raises(DeviceDeniedError, match="cannot be read"):
        async with open_device(f"simulated:{tmp_path}"):
            pass


async def test_a_broken_target_is_named_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    path.write_text("dose_g = 15\nend = oops\n", encoding="utf-8")
    with pytest.raises(AddressError, match=r"broken\.toml.*line 2"):
        async with open_device(f"simulated:{path}"):
            pass


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ("speed=fast", "speed=fast"),
        ("speed=0", "speed=0"),
        ("seed=1.5", "whole number"),
        ("seed=-1", "seed=-1"),
        ("level=brutal", "hard"),
        ("rate_hz=0", "rate_hz=0"),
        ("step_g=x", "step_g=x"),
        ("colour=red", "colour"),
    ],
)
def test_impossible_options_are_refused(options: str, says: str) -> None:
    with pytest.raises(AddressError, match=says):
        open_simulated(parse_address(f"simulated:target.toml?{options}"), ChannelNames())

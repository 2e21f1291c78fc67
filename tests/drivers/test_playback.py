from __future__ import annotations

import asyncio
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import (
    CELSIUS,
    GRAM,
    AddressError,
    ChannelNames,
    DeviceError,
    DeviceNotFoundError,
    DeviceUnreadableError,
    Reading,
    Status,
    open_device,
    parse_address,
)
from drivers.playback import Playback
from drivers.reading import JOURNAL_HEADER, journal_line

BREW = [
    Reading("scale", 0.5, 0.0, GRAM, Status.STABLE),
    Reading("kettle", 0.75, 93.5, CELSIUS),
    Reading("scale", 10.0, 52.25, GRAM, Status.MOVING, 9.5),
    Reading("scale", 12.0, math.nan, GRAM, Status.LOST),
    Reading("scale", 40.0, 53.0, GRAM, Status.STABLE, 39.5),
]


class FakeTime:
    """A clock that only sleeping moves on, and that always oversleeps a little."""

    def __init__(self) -> None:
        self.now_s = 1000.0
        self.naps: list[float] = []

    def clock(self) -> float:
        return self.now_s

    async def sleep(self, seconds: float) -> None:
        self.naps.append(seconds)
        self.now_s += seconds + 0.01
        await asyncio.sleep(0)


def write_recording(folder, readings, tail=""):
    text = "\n".join([JOURNAL_HEADER, *(journal_line(reading) for reading in readings)]) + "\n" + tail
    (folder / "readings.csv").write_text(text, encoding="utf-8")
    return folder


def playback(folder, speed: float, fake: FakeTime) -> Playback:
    return Playback(parse_address(f"playback:{folder}"), speed, fake.clock, fake.sleep)


async def play(device) -> list[Reading]:
    async with device:
        return [reading async for reading in device]


async def test_what_was_recorded_is_what_is_played(tmp_path):
    played = await play(playback(write_recording(tmp_path, BREW), 1.0, FakeTime()))
    assert [journal_line(one, origin_s=1000.0) for one in played] == [journal_line(one) for one in BREW]


@pytest.mark.parametrize("speed", [0.5, 1.0, 8.0])
async def test_the_pace_has_no_drift_and_the_time_axis_is_the_recorded_one(tmp_path, speed):
    fake = FakeTime()
    readings = [Reading("scale", number / 10, float(number), GRAM) for number in range(301)]
    arrived_s = []
    async with playback(write_recording(tmp_path, readings), speed, fake) as device:
        async for reading in device:
            arrived_s.append(fake.now_s)
            assert reading.time_s == 1000.0 + reading.value / 10
    # each nap is 0.01 s too long; a schedule from reading to reading would be 3 s late by now
    assert arrived_s[-1] - 1000.0 == pytest.approx(30 / speed, abs=0.02)
    assert device.paced == speed


async def test_as_fast_as_possible_lets_others_run(tmp_path):
    fake = FakeTime()
    readings = [Reading("scale", number, 1.0, GRAM) for number in range(1000)]
    device = playback(write_recording(tmp_path, readings), math.inf, fake)
    assert len(await play(device)) == 1000
    assert fake.naps == [0.0] * 10
    assert open_device(f"playback:{tmp_path}?speed=max").paced == math.inf


async def test_names_of_this_brew_do_not_rename_what_was_recorded(tmp_path):
    write_recording(tmp_path, BREW)
    names = ChannelNames(weight="other", temperature="other2")
    played = await play(open_device(f"playback:{tmp_path}?speed=max", names))
    assert {reading.channel for reading in played} == {"scale", "kettle"}


async def test_a_torn_last_line_is_left_out_and_told(tmp_path):
    device = playback(write_recording(tmp_path, BREW, tail="41.0,scale,53."), math.inf, FakeTime())
    assert len(await play(device)) == len(BREW)
    assert device.facts()["torn_last_line"] is True


async def test_an_empty_journal_plays_nothing(tmp_path):
    (tmp_path / "readings.csv").touch()
    assert await play(playback(tmp_path, 1.0, FakeTime())) == []


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("13.0,scale,heavy,g,,", "value 'heavy'"),
        ("13.0,scale", "2 fields"),
        ("13.0,scale,1.0,lb,,", "unit 'lb'"),
    ],
)
async def test_a_broken_line_is_named(tmp_path, line, what):
    device = playback(write_recording(tmp_path, BREW, tail=f"{line}\n"), math.inf, FakeTime())
    with pytest.raises(DeviceUnreadableError, match=what) as caught:
        await play(device)
    assert f"readings.csv:{len(BREW) + 2}:" in caught.value.what


async def test_bytes_that_are_no_text_are_named(tmp_path):
    write_recording(tmp_path, BREW)
    with (tmp_path / "readings.csv").open("ab") as file:
        file.write(b"\xff\xfe\n")
    with pytest.raises(DeviceUnreadableError, match=r"readings\.csv:7:"):
        await play(playback(tmp_path, math.inf, FakeTime()))


async def test_another_table_is_no_recording(tmp_path):
    (tmp_path / "readings.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(DeviceUnreadableError, match=r"readings\.csv:1: it begins with 'a,b'"):
        await play(playback(tmp_path, math.inf, FakeTime()))


async def test_a_missing_folder(tmp_path):
    with pytest.raises(DeviceNotFoundError, match="no recording"):
        await play(open_device(f"playback:{tmp_path}/nowhere"))


async def test_a_recording_cannot_be_tared(tmp_path):
    device = open_device(f"playback:{tmp_path}")
    assert not device.can_tare
    with pytest.raises(DeviceError, match="cannot be tared"):
        await device.tare()


@pytest.mark.parametrize("options", ["speed=0", "speed=fast", "gap=3"])
def test_wrong_options(tmp_path, options):
    with pytest.raises(AddressError):
        open_device(f"playback:{tmp_path}?{options}")


JOURNAL = st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode))


@given(JOURNAL)
async def test_any_bytes_in_a_journal_play_or_are_named(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("recording")
    (folder / "readings.csv").write_bytes(JOURNAL_HEADER.encode() + b"\n" + data)
    try:
        await play(playback(folder, math.inf, FakeTime()))
    except DeviceUnreadableError as error:
        assert "readings.csv:" in error.what

from __future__ import annotations

import asyncio
import json
import math
from datetime import UTC, datetime

import pytest

from drivers.errors import DeviceDeniedError, DeviceLostError, DeviceNotFoundError
from drivers.reading import JOURNAL_HEADER, Reading, Status
from logger.errors import BadInputError, FailureError
from logger.recording import DevicesError, Meta, Recorder, Recording, record
from logger.recording.take import Take

pytestmark = pytest.mark.usefixtures("no_task_left_behind")

MORNING = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)
BREW = Meta(title="Three pours", coffee="invented", dose_g=18.0, target_name="V", target_text="title = 'V'\n")
UNPLUGGED = DeviceLostError("fake:kettle", "the link broke", "Plug it in again.")


def morning() -> datetime:
    return MORNING


def kettle(count: int, step_s: float = 0.25) -> list[Reading]:
    return [Reading("kettle", n * step_s, 93.0 - n / 10, "°C") for n in range(count)]


async def test_a_brew_is_recorded_as_it_came(tmp_path, fake_device, some_readings, follower):
    given, listener = some_readings(20), follower()
    device = fake_device(given)
    done = await record([device], tmp_path, BREW, listeners=[listener], now=morning)
    assert done.path == tmp_path / "2026-11-25-0730-three-pours"
    assert (done.reason, done.counts, done.lost) == ("devices ended", {"scale": 20}, ())
    recording = Recording.open(done.path)
    assert recording.problems == ()
    assert recording.arrays("scale")[1].tolist() == [reading.value for reading in given]
    assert listener.seen == given
    assert not device.is_open


async def test_what_is_known_of_the_brew_is_kept(tmp_path, fake_device, some_readings):
    done = await record([fake_device(some_readings(2))], tmp_path, BREW, now=morning)
    meta = Recording.open(done.path).meta
    assert (meta.title, meta.coffee, meta.dose_g) == ("Three pours", "invented", 18.0)
    assert (meta.target_name, meta.target_text) == ("V", "title = 'V'\n")
    assert (meta.started, meta.complete, meta.ended) == (MORNING, True, "devices ended")
    assert meta.counters == {"readings.scale": 2, "lines_rejected.fake:one": 3}
    (device,) = meta.devices
    assert device["address"] == "fake:one"
    assert device["channels"] == ["scale"]
    assert device["port"] == "/dev/null"  # what JSON cannot hold is kept as text
    assert device["noise"] is None


async def test_the_time_axis_begins_with_the_first_reading(tmp_path, fake_device, follower):
    given = [Reading("scale", 5000.123456789 + n / 10, n, "g") for n in range(3)]
    listener = follower()
    done = await record([fake_device(given)], tmp_path, BREW, listeners=[listener])
    assert Recording.open(done.path).arrays("scale")[0].tolist() == [0.0, 0.1, 0.2]
    assert [reading.time_s for reading in listener.seen] == [0.0, 0.1, 0.2]


async def test_a_reading_is_written_down_before_any_listener_sees_it(tmp_path, fake_device, some_readings):
    class Checker:
        finished = False

        def push(self, reading: Reading) -> None:
            (file,) = tmp_path.glob("*/readings.csv")
            assert file.read_text().splitlines()[-1].startswith(f"{reading.time_s},scale,")

    await record([fake_device(some_readings(5))], tmp_path, BREW, listeners=[Checker()])


async def test_the_target_is_on_the_disk_before_the_first_reading(tmp_path, fake_device):
    recording = asyncio.create_task(record([fake_device(then="silence")], tmp_path, BREW))
    while not (found := list(tmp_path.glob("*/readings.csv"))):  # noqa: ASYNC110
        await asyncio.sleep(0.01)
    (file,) = found
    assert file.read_text() == JOURNAL_HEADER + "\n"
    opening = Recording.open(file.parent)
    assert opening.meta.target_text == "title = 'V'\n"
    assert not opening.meta.complete
    recording.cancel()
    with pytest.raises(asyncio.CancelledError):
        await recording


async def test_it_ends_when_a_listener_says_so(tmp_path, fake_device, some_readings, follower):
    listeners = [follower(), follower(until=7)]
    done = await record([fake_device(some_readings(50))], tmp_path, BREW, listeners=listeners)
    assert (done.reason, done.counts) == ("ended by itself", {"scale": 7})
    assert Recording.open(done.path).meta.ended == "ended by itself"


@pytest.mark.parametrize("paced", [1.0, 8.0, math.inf])
async def test_it_ends_when_the_time_of_the_readings_is_up(tmp_path, fake_device, some_readings, paced):
    done = await record([fake_device(some_readings(500), paced=paced)], tmp_path, BREW, for_s=3.0)
    assert (done.reason, done.counts) == ("time is up", {"scale": 31})


async def test_it_ends_when_the_time_is_up_although_the_device_is_silent(tmp_path, fake_device):
    done = await record([fake_device(then="silence")], tmp_path, BREW, for_s=0.05)
    assert (done.reason, done.counts) == ("time is up", {})
    assert Recording.open(done.path).problems == ()


async def test_it_ends_well_when_asked_to_stop(tmp_path, fake_device, some_readings):
    stop = asyncio.Event()
    device = fake_device(some_readings(5), then="silence")
    asyncio.get_running_loop().call_later(0.05, stop.set)
    done = await record([device], tmp_path, BREW, stop=stop)
    assert (done.reason, done.counts) == ("stopped", {"scale": 5})
    assert not device.is_open


async def test_a_cancelled_recording_is_closed_and_complete(tmp_path, fake_device, some_readings):
    device = fake_device(some_readings(5), then="silence")
    task = asyncio.create_task(record([device], tmp_path, BREW, now=morning))
    await asyncio.sleep(0.05)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    recording = Recording.open(tmp_path / "2026-11-25-0730-three-pours")
    assert len(recording.readings) == 5
    assert (recording.problems, recording.meta.ended) == ((), "stopped")
    assert not device.is_open


@pytest.mark.parametrize("turns", range(1, 40))
async def test_cancelled_at_any_moment_no_device_stays_open(tmp_path, fake_device, some_readings, turns):
    devices = [
        fake_device(some_readings(100), pause_s=1e-4),
        fake_device(kettle(8), then="silence", address="fake:two"),
    ]
    task = asyncio.create_task(record(devices, tmp_path, BREW, for_s=10.0))
    for _ in range(turns):
        await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert not any(device.is_open for device in devices)
    for folder in tmp_path.iterdir():
        assert Recording.open(folder).problems == ()


async def test_two_devices_share_one_journal_in_the_order_of_arrival(tmp_path, fake_device, some_readings):
    scale = fake_device(some_readings(10), pause_s=0.004)
    probe = fake_device(kettle(4), address="fake:kettle", pause_s=0.01)
    done = await record([scale, probe], tmp_path, BREW)
    assert done.counts == {"scale": 10, "kettle": 4}
    assert Recording.open(done.path).channels() == ("scale", "kettle")


async def test_devices_that_run_as_fast_as_they_can_are_merged_by_time(tmp_path, fake_device, some_readings):
    scale = fake_device(some_readings(40), paced=math.inf)
    probe = fake_device(kettle(10), paced=math.inf, address="fake:kettle")
    third = fake_device(some_readings(3, "server", 2.0), paced=math.inf, address="fake:server")
    done = await record([scale, probe, third], tmp_path, BREW)
    assert done.counts == {"scale": 40, "kettle": 10, "server": 3}
    assert Recording.open(done.path).readings["time_s"].is_monotonic_increasing


async def test_a_device_lost_in_mid_brew_leaves_a_line_and_the_others_go_on(
    tmp_path, fake_device, some_readings
):
    clock = iter(range(1, 1000))
    scale = fake_device(some_readings(20), pause_s=0.002)
    probe = fake_device(kettle(2), then=UNPLUGGED, address="fake:kettle")
    done = await record([scale, probe], tmp_path, BREW, clock=lambda: float(next(clock)))
    assert done.reason == "devices ended"
    assert [(lost.address, "Plug it in again" in lost.message) for lost in done.lost] == [
        ("fake:kettle", True)
    ]
    rows = Recording.open(done.path).channel("kettle")
    assert rows["status"].tolist() == ["", "", "lost"]
    assert done.counts["kettle"] == 2  # a lost link is no reading
    counters = Recording.open(done.path).meta.counters
    assert (counters["readings.kettle"], counters["lost.kettle"]) == (2, 1)
    assert "lost.scale" not in counters
    assert math.isnan(rows["value"].iloc[-1])
    assert rows["time_s"].iloc[-1] >= 0.25
    assert len(Recording.open(done.path).arrays("kettle")[0]) == 2
    assert done.counts["scale"] == 20


async def test_it_ends_when_every_device_is_lost(tmp_path, fake_device, some_readings):
    done = await record([fake_device(some_readings(3), then=UNPLUGGED)], tmp_path, BREW)
    assert done.reason == "devices lost"
    assert Recording.open(done.path).channel("scale")["status"].tolist() == ["", "", "", "lost"]
    assert "the link broke" in Recording.open(done.path).meta.devices[0]["lost"]


async def test_a_driver_that_fails_does_not_end_the_brew(tmp_path, fake_device, some_readings, caplog):
    scale = fake_device(some_readings(20), pause_s=0.001)
    probe = fake_device(kettle(2), then=ZeroDivisionError("oops"), address="fake:kettle")
    done = await record([scale, probe], tmp_path, BREW)
    assert done.counts["scale"] == 20
    assert "the driver failed: ZeroDivisionError('oops')" in done.lost[0].message
    assert "ZeroDivisionError" in caplog.text


async def test_all_devices_that_do_not_open_are_told_at_once_and_no_folder_is_made(tmp_path, fake_device):
    good = fake_device(then="silence")
    missing = DeviceNotFoundError("serial:/dev/ttyUSB0", "there is no such port", "Plug the scale in.")
    denied = DeviceDeniedError("serial:/dev/ttyUSB1", "you may not open it", "Join the group dialout.")
    devices = [good, fake_device(opening=missing), fake_device(opening=denied)]
    with pytest.raises(DevicesError) as raised:
        await record(devices, tmp_path / "into", BREW)
    assert raised.value.errors == (missing, denied)
    assert str(raised.value) == (
        "2 of 3 devices could not be opened:\n"
        "  serial:/dev/ttyUSB0: there is no such port. Plug the scale in.\n"
        "  serial:/dev/ttyUSB1: you may not open it. Join the group dialout."
    )
    assert raised.value.is_bad_input
    assert not (tmp_path / "into").exists()
    assert good.was_opened
    assert not good.is_open


async def test_a_folder_that_cannot_be_made_is_told_and_the_devices_are_closed(tmp_path, fake_device):
    (tmp_path / "file").write_text("")
    device = fake_device(then="silence")
    with pytest.raises(FailureError, match="make a folder for the recording"):
        await record([device], tmp_path / "file", BREW)
    assert not device.is_open


async def test_a_full_disk_ends_the_recording_and_keeps_what_was_written(
    tmp_path, fake_device, some_readings, monkeypatch
):
    append = Take._take

    def until_full(self, reading, age_s):
        if reading.time_s > 1.0:
            raise FailureError("readings.csv", "could not write", "Free some space.")
        append(self, reading, age_s)

    monkeypatch.setattr(Take, "_take", until_full)
    with pytest.raises(FailureError, match="Free some space"):
        await record([fake_device(some_readings(50), then="silence")], tmp_path, BREW)
    (folder,) = tmp_path.iterdir()
    assert len(Recording.open(folder).readings) == 11


async def test_a_listener_that_fails_is_heard_after_the_recording_was_closed(
    tmp_path, fake_device, some_readings
):
    class Broken:
        finished = False

        def push(self, reading: Reading) -> None:
            raise RuntimeError("a fault of the screen")

    with pytest.raises(RuntimeError, match="a fault of the screen"):
        await record([fake_device(some_readings(5), then="silence")], tmp_path, BREW, listeners=[Broken()])
    (folder,) = tmp_path.iterdir()
    assert len(Recording.open(folder).readings) == 1
    assert Recording.open(folder).problems == ()


async def test_two_devices_may_not_call_a_channel_the_same(tmp_path, fake_device, some_readings):
    one = fake_device(some_readings(5), then="silence")
    two = fake_device(some_readings(5), then="silence", address="fake:two")
    with pytest.raises(BadInputError, match=r"fake:two: its channel 'scale' is called like one of fake:one"):
        await record([one, two], tmp_path, BREW)


async def test_brew_after_brew_with_the_devices_held_open(tmp_path, fake_device, some_readings, follower):
    device = fake_device(some_readings(40), paced=math.inf)
    async with Recorder([device], now=morning) as recorder:
        first = await recorder.record_one(tmp_path, BREW, listeners=[follower(until=10)])
        second = await recorder.record_one(tmp_path, BREW, listeners=[follower(until=20)])
        third = await recorder.record_one(tmp_path, BREW)
    assert device.was_opened == 1
    assert [done.path.name[-7:] for done in (first, second, third)] == ["e-pours", "pours-2", "pours-3"]
    assert [done.counts["scale"] for done in (first, second, third)] == [10, 20, 10]
    assert third.reason == "devices ended"
    values = [Recording.open(done.path).arrays("scale")[1].tolist() for done in (first, second, third)]
    assert sum(values, []) == [reading.value for reading in device.given]  # noqa: RUF017


async def test_what_came_between_two_brews_is_the_head_of_the_next(
    tmp_path, fake_device, some_readings, follower
):
    device = fake_device(some_readings(300), then="silence")
    async with Recorder([device], now=morning) as recorder:
        first = await recorder.record_one(tmp_path, BREW, listeners=[follower(until=10)])
        await asyncio.sleep(0.1)  # the device goes on meanwhile: 290 readings, 29 s on their time axis
        second = await recorder.record_one(tmp_path, BREW, for_s=0.05)
    assert first.counts == {"scale": 10}
    time_s, value = Recording.open(second.path).arrays("scale")
    assert value[-1] == 29.9
    assert 9.9 <= time_s[-1] - time_s[0] <= 10.0
    counters = Recording.open(second.path).meta.counters
    assert counters["readings.not_kept_before_start"] == 290 - len(value)


async def test_a_listener_may_wait_for_the_brew_without_recording(
    tmp_path, fake_device, some_readings, follower
):
    device = fake_device(some_readings(40), paced=math.inf)
    async with Recorder([device]) as recorder:
        assert await recorder.watch(follower(until=15))
        done = await recorder.record_one(tmp_path, BREW, listeners=[follower(until=20)])
        assert not await recorder.watch(follower())
    assert Recording.open(done.path).arrays("scale")[1].tolist() == [n / 10 for n in range(20)]


async def test_who_waits_for_the_brew_is_shown_what_came_since_the_last(
    tmp_path, fake_device, some_readings, follower
):
    device, waiting = fake_device(some_readings(80), then="silence"), follower(until=30)
    async with Recorder([device], now=morning) as recorder:
        await recorder.record_one(tmp_path, BREW, listeners=[follower(until=20)])
        await asyncio.sleep(0.1)  # somebody looks at the brew; the device goes on meanwhile
        assert await recorder.watch(waiting)
        second = await recorder.record_one(tmp_path, BREW, for_s=0.05)
    assert [reading.value for reading in waiting.seen] == [n / 10 for n in range(20, 50)]
    assert Recording.open(second.path).arrays("scale")[1].tolist() == [n / 10 for n in range(20, 80)]


async def test_a_busy_computer_loses_nothing_of_what_led_to_the_brew(
    tmp_path, fake_device, some_readings, follower
):
    device = fake_device(some_readings(300), then="silence")
    async with Recorder([device], now=morning) as recorder:
        assert await recorder.watch(follower(until=150))
        await asyncio.sleep(0.1)  # the device goes on meanwhile: 150 readings, 15 s on their time axis
        done = await recorder.record_one(tmp_path, BREW, for_s=0.05)
    assert Recording.open(done.path).arrays("scale")[1].tolist() == [n / 10 for n in range(49, 300)]


async def test_waiting_ends_when_asked_to_stop(fake_device, follower):
    stop = asyncio.Event()
    async with Recorder([fake_device(then="silence")]) as recorder:
        asyncio.get_running_loop().call_later(0.02, stop.set)
        assert not await recorder.watch(follower(), stop=stop)


async def test_a_mark_is_kept_on_the_recordings_axis(tmp_path, fake_device, some_readings, follower):
    class Marker(follower):
        def push(self, reading: Reading) -> None:
            super().push(reading)
            if reading.time_s == 0.3:
                recorder.mark("first drip")

    async with Recorder([fake_device(some_readings(9), paced=math.inf)]) as recorder:
        assert recorder.mark("too early") is None
        done = await recorder.record_one(tmp_path, BREW, listeners=[Marker()])
    assert Recording.open(done.path).meta.marks == {"first drip": 0.3}


async def test_readings_and_marks_reach_the_disk_while_the_brew_goes_on(
    tmp_path, fake_device, some_readings, monkeypatch
):
    synced = []
    monkeypatch.setattr("logger.recording.journal.os.fsync", lambda handle: synced.append(handle))
    device = fake_device(some_readings(5), then="silence")
    async with Recorder([device]) as recorder:
        task = asyncio.create_task(recorder.record_one(tmp_path, BREW))
        await asyncio.sleep(0.05)
        recorder.mark("first drip")
        before = len(synced)
        await asyncio.sleep(0.6)
        assert len(synced) > before
        (descriptor,) = tmp_path.glob("*/datapackage.json")
        package = json.loads(descriptor.read_text())
        assert list(package["marks"]) == ["first drip"]
        assert package["complete"] is False
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task


async def test_a_lost_line_stands_for_a_channel_that_was_seen(tmp_path, fake_device):
    nothing_yet = DeviceLostError("fake:kettle", "the link broke", "Plug it in again.")
    done = await record([fake_device(then=nothing_yet)], tmp_path, BREW)
    assert (done.reason, done.counts) == ("devices lost", {})
    assert Status.LOST.value not in (done.path / "readings.csv").read_text()

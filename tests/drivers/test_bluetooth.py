"""The Bluetooth driver on a stand-in for the system's Bluetooth: services, damaged packets, lost links."""

from __future__ import annotations

import asyncio
import itertools
import math
import random
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from drivers import (
    CELSIUS,
    GRAM,
    AddressError,
    ChannelNames,
    DeviceDeniedError,
    DeviceError,
    DeviceLostError,
    DeviceNotFoundError,
    DeviceSilentError,
    DeviceUnreadableError,
    Status,
    open_device,
)
from drivers.supervised import Patience, Supervised
from tests.drivers import listening
from tests.peers.bluez import BATTERY, SCALE, WEIGHT, uuid, weights

A = "C0:FF:EE:00:00:01"
MEASUREMENT, INTERMEDIATE, TEMPERATURE = uuid("2a1c"), uuid("2a1e"), uuid("2a6e")
ROOT = Path(__file__).parents[2]

take = partial(listening.take, within_s=15)
listen_to_the_end = partial(listening.listen_to_the_end, within_s=15)


@pytest.fixture
def scale(bluez):
    bluez.tell("device", A, name="Bench Scale", services=SCALE)
    return bluez


def scale_device(options: str = "silent_s=2&timeout_s=4"):
    return open_device(f"ble:{A}?{options}")


def grams(packets: list[str]) -> list[float]:
    """What the packets of :func:`weights` weigh: 0.005 kg a count (GATT Specification Supplement)."""
    return [5.0 * int.from_bytes(bytes.fromhex(packet)[1:3], "little") for packet in packets]


# What standard services give


async def test_a_scale_gives_weight_step_and_battery(scale):
    device = open_device(f"ble:{A}", ChannelNames(weight="server"))
    assert device.battery_percent is None
    async with device:
        assert device.battery_percent == 97
        assert dict(device.steps) == {"server": 5.0}
        assert not device.can_tare
        scale.tell("notify", A, WEIGHT, ["006400", "01e803", "00ffff"])
        readings = await take(device, 3)
        scale.tell("notify", A, BATTERY, ["60"])
        scale.tell("notify", A, WEIGHT, ["006400"])
        await take(device, 1)
        assert device.battery_percent == 96
    # 0.500 kg, 10.00 lb: Bluetooth GATT Specification Supplement, Weight Measurement; FFFF from memory.
    assert [reading.value for reading in readings[:2]] == [500.0, pytest.approx(4535.9237)]
    assert math.isnan(readings[2].value)
    assert readings[2].status is Status.ERROR
    assert {(reading.channel, reading.unit) for reading in readings} == {("server", GRAM)}
    facts = device.facts()
    assert (facts["driver"], facts["name"], facts["packets"], facts["packets_rejected"]) == (
        "ble",
        "Bench Scale",
        5,
        0,
    )


async def test_the_step_is_that_of_the_unit_the_scale_sends_in(scale):
    async with scale_device() as device:
        scale.tell("notify", A, WEIGHT, ["01e803"])
        await take(device, 1)
        assert dict(device.steps) == {"scale": pytest.approx(4.5359237)}


async def test_a_thermometer_gives_settled_and_intermediate_values_on_one_channel(bluez):
    thermometer = {MEASUREMENT: {"flags": ["indicate"]}, INTERMEDIATE: {"flags": ["notify"]}}
    bluez.tell("device", A, services={uuid("1809"): thermometer})
    async with open_device(f"ble:{A}", ChannelNames(temperature="kettle")) as device:
        bluez.tell("notify", A, INTERMEDIATE, ["00970d00fe"])
        bluez.tell("notify", A, MEASUREMENT, ["006c0100ff", "00ffff7f00"])
        readings = await take(device, 3)
    # 34.79 and 36.4 °C: worked examples to Bluetooth SIG's Personal Health Devices Transcoding White Paper.
    assert [reading.value for reading in readings[:2]] == [34.79, 36.4]
    assert math.isnan(readings[2].value)
    assert {(reading.channel, reading.unit) for reading in readings} == {("kettle", CELSIUS)}


async def test_several_temperatures_get_numbered_channels(bluez):
    sensing = {f"{TEMPERATURE}#{number}": {"flags": ["notify"]} for number in (1, 2)}
    bluez.tell("device", A, services={uuid("181a"): sensing})
    async with open_device(f"ble:{A}") as device:
        bluez.tell("notify", A, TEMPERATURE, ["8c24"])  # 93.56 °C
        bluez.tell("notify", A, f"{TEMPERATURE}#2", ["0080"])
        one, two = await take(device, 2)
    assert (one.channel, one.value) == ("thermometer", 93.56)
    assert (two.channel, two.status) == ("thermometer2", Status.ERROR)
    assert dict(device.steps)["thermometer"] == 0.01


async def test_a_temperature_that_is_not_sent_is_read_again_and_again(bluez, monkeypatch):
    monkeypatch.setattr("drivers.bluetooth_standard.POLL_S", 0.1)
    bluez.tell("device", A, services={uuid("181a"): {TEMPERATURE: {"flags": ["read"], "value": "0000"}}})
    bluez.tell("values", A, TEMPERATURE, ["6400", "c800", "2c01"])
    async with scale_device() as device:
        begun_s = time.monotonic()
        readings = await take(device, 4)
    assert [reading.value for reading in readings] == [1.0, 2.0, 3.0, 3.0]
    assert 0.25 < time.monotonic() - begun_s < 2.0


async def test_a_device_without_standard_services_is_listed(bluez):
    bluez.tell(
        "device",
        A,
        services={
            uuid("fff0"): {uuid("fff1"): {"flags": ["notify"]}},
            "12345678-0000-4000-8000-000000000000": {},
        },
    )
    with pytest.raises(DeviceUnreadableError, match=r"service 0xFFF0 with 0xFFF1 \(notify\)") as caught:
        await scale_device().__aenter__()
    assert "described=FILE" in caught.value.remedy
    assert not bluez.tell("state", A)["connected"]


async def test_a_scale_on_standard_services_cannot_be_tared(scale):
    async with scale_device() as device:
        with pytest.raises(DeviceError, match="no tare command"):
            await device.tare()


@pytest.mark.parametrize("options", ["speed=3", "silent_s=0", "timeout_s=x", "described=/none"])
def test_options_that_make_no_sense(options):
    with pytest.raises(AddressError):
        open_device(f"ble:{A}?{options}")


# However the packets come


async def test_packets_in_bursts_arrive_once_and_in_order(scale):
    packets = weights(300)
    async with scale_device() as device:
        scale.tell("stream", A, WEIGHT, packets, 200, interval_s=0.15)
        readings = await take(device, 300)
    assert [reading.value for reading in readings] == grams(packets)
    gaps_s = [b.time_s - a.time_s for a, b in itertools.pairwise(readings)]
    assert sum(gap_s > 0.05 for gap_s in gaps_s) in range(5, 14)  # bursts, as they came


async def test_damaged_packets_are_counted_and_the_rest_goes_on(scale):
    chance = random.Random(7)
    damaged = ["", "00", "0064", "02f401ea07", "0fe803"]  # shorter than their flags say
    noise = [chance.randbytes(chance.randrange(0, 21)).hex() for _ in range(200)]
    async with scale_device() as device:
        scale.tell("notify", A, WEIGHT, ["006400", *damaged])
        scale.tell("notify", A, WEIGHT, noise)
        scale.tell("notify", A, WEIGHT, ["00ffff", "00c800"])
        async with asyncio.timeout(10):
            async for reading in device:
                assert math.isnan(reading.value) or 0 <= reading.value <= 0xFFFE * 5
                if device.facts()["packets"] == 208:
                    break
    assert reading.value == 1000.0
    facts = device.facts()
    assert facts["packets_rejected"] >= 5
    assert facts["overruns"] == 0
    assert isinstance(facts["last_rejected"], str)


async def test_the_last_rejected_packet_is_kept_with_the_reason(scale):
    async with scale_device() as device:
        scale.tell("notify", A, WEIGHT, ["0064", "006400"])
        await take(device, 1)
    assert device.facts()["last_rejected"] == "00 64 (2 bytes are too few for a weight)"


async def test_a_device_of_which_nothing_can_be_read(scale):
    async with scale_device("silent_s=0.5") as device:
        scale.tell("stream", A, WEIGHT, ["0064"] * 40, 20)
        readings, error = await listen_to_the_end(device)
    assert readings == []
    assert isinstance(error, DeviceUnreadableError)
    assert "none could be read; the last one was 00 64" in error.what


# Links that break


async def test_lost_in_mid_brew_and_connected_again_nothing_is_doubled(scale):
    rate_hz, received, names_before = 50, [], None
    scale.tell("stream", A, WEIGHT, weights(10_000), rate_hz)
    for turn in range(4):
        async with scale_device() as device:
            readings = await take(device, 60)
            state, names = scale.tell("state", A), len(scale.tell("bus_names"))
            assert state["sessions"] == 2  # weight and battery, of this connection alone
            names_before = names_before or names
            assert names == names_before  # no connection to the bus is left behind
            scale.tell("drop", A, 0.2)
            rest, error = await listen_to_the_end(device)
        assert isinstance(error, DeviceLostError)
        received += [reading.value for reading in readings + rest]
        if turn == 3:  # after the third reconnection
            span_s = readings[-1].time_s - readings[0].time_s
            assert 59 / span_s == pytest.approx(rate_hz, rel=0.3)
    assert scale.tell("state", A)["connects"] == 4
    assert received == grams(weights(len(received)))  # each once, in order, across all of them


async def test_the_same_device_may_be_entered_again(scale):
    device = scale_device()
    for turn in range(3):
        async with device:
            scale.tell("notify", A, WEIGHT, weights(2, first=turn))
            assert [reading.value for reading in await take(device, 2)] == grams(weights(2, first=turn))
            assert scale.tell("state", A)["sessions"] == 2
    assert device.facts()["packets"] == 6


async def test_gone_for_good(scale):
    async with scale_device() as device:
        scale.tell("notify", A, WEIGHT, weights(3))
        scale.tell("gone", A)
        readings, error = await listen_to_the_end(device)
    assert [reading.value for reading in readings] == grams(weights(3))
    assert isinstance(error, DeviceLostError)
    with pytest.raises(DeviceNotFoundError, match="not heard"):
        await scale_device("timeout_s=1").__aenter__()


async def test_a_link_that_is_up_and_silent(scale):
    async with scale_device("silent_s=0.5") as device:
        scale.tell("stream", A, WEIGHT, weights(1000), 20)
        await take(device, 5)
        scale.tell("stall", A, True)
        begun_s = time.monotonic()
        assert scale.tell("state", A)["connected"]
        _, error = await listen_to_the_end(device)
        assert isinstance(error, DeviceSilentError)
        assert 0.3 < time.monotonic() - begun_s < 2.5
    assert not scale.tell("state", A)["connected"]


async def test_what_comes_while_a_silent_device_is_let_go_is_not_lost(scale, monkeypatch):
    async with scale_device("silent_s=0.5") as device:
        scale.tell("notify", A, WEIGHT, weights(1))
        let_go = device._link.close

        async def speak_and_let_go():
            scale.tell("notify", A, WEIGHT, weights(5, first=1))
            await let_go()

        monkeypatch.setattr(device._link, "close", speak_and_let_go)
        readings, error = await listen_to_the_end(device)
    assert isinstance(error, DeviceSilentError)
    assert [reading.value for reading in readings] == grams(weights(6))


async def test_battery_news_are_no_data(scale):
    async with scale_device("silent_s=0.6") as device:
        scale.tell("stream", A, BATTERY, ["60", "5f"] * 100, 20)
        _, error = await listen_to_the_end(device)
    assert isinstance(error, DeviceSilentError)


async def test_the_system_service_crashes_and_returns(scale):
    async with scale_device("silent_s=0.5") as device:
        scale.tell("notify", A, WEIGHT, weights(3))
        await take(device, 3)
        scale.crash()
        _, error = await listen_to_the_end(device)
        assert isinstance(error, DeviceSilentError)
    with pytest.raises(DeviceNotFoundError, match="no Bluetooth service"):
        await scale_device().__aenter__()
    scale.start()
    scale.tell("device", A, name="Bench Scale", services=SCALE)
    async with scale_device() as again:
        scale.tell("notify", A, WEIGHT, weights(3))
        assert [reading.value for reading in await take(again, 3)] == grams(weights(3))


async def test_the_adapter_is_switched_off_and_on_again(scale):
    async with scale_device() as device:
        scale.tell("power", False)
        _, error = await listen_to_the_end(device)
        assert isinstance(error, DeviceLostError)
    with pytest.raises(DeviceNotFoundError, match="switched off"):
        await scale_device().__aenter__()
    scale.tell("power", True)
    await asyncio.sleep(0.1)  # until the news has gone round
    async with scale_device() as again:
        scale.tell("notify", A, WEIGHT, weights(1))
        await take(again, 1)


async def test_reading_that_is_cancelled_lets_the_device_go(scale):
    entered = asyncio.Event()

    async def read():
        async with scale_device() as device:
            entered.set()
            await take(device, 1000)

    task = asyncio.create_task(read())
    await asyncio.wait_for(entered.wait(), 10)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert not scale.tell("state", A)["connected"]


async def test_supervised_it_comes_back_by_itself(scale):
    scale.tell("stream", A, WEIGHT, weights(1000), 50)
    seen = []
    supervised = Supervised(f"ble:{A}?silent_s=1&timeout_s=3", patience=Patience(0.1, 0.5))
    async with supervised, asyncio.timeout(20):
        async for reading in supervised:
            seen.append(reading)
            values = [one for one in seen if one.status.has_value]
            if len(seen) == 20:
                scale.tell("drop", A, 0.3)
            if len(values) == 60:
                break
    assert [one.value for one in values] == grams(weights(60))
    assert any(one.status is Status.LOST for one in seen)
    assert supervised.facts()["packets"] == 60


# Described devices


DESCRIPTION = f"""
name = "bench scale"
kind = "ble"
start = [0x01]
tare = [0x54, 0x00]

[ble]
service = "{uuid("fff0")}"
notify = "{uuid("fff1")}"
write = "{uuid("fff2")}"

[keep_alive]
send = [0x0A]
every_s = 0.2

[[frame]]
header = [0xAA]
length = 4

[[frame.field]]
holds = "weight"
offset = 1
width = 2
order = "big"
signed = "twos-complement"
scale = 0.1
unit = "g"

[frame.checksum]
kind = "sum8"
at = 3
"""
OWN_SERVICES = {uuid("fff0"): {uuid("fff1"): {"flags": ["notify"]}, uuid("fff2"): {"flags": ["write"]}}}


def own_packet(tenths: int) -> str:
    data = b"\xaa" + tenths.to_bytes(2, "big", signed=True)
    return (data + bytes([sum(data) & 0xFF])).hex()


@pytest.fixture
def described(bluez, tmp_path):
    (tmp_path / "scale.toml").write_text(DESCRIPTION, encoding="utf-8")
    bluez.tell("device", A, name="Own Scale", services=OWN_SERVICES)
    return f"ble:{A}?described={tmp_path / 'scale.toml'}&silent_s=2&timeout_s=4"


async def test_a_described_device_is_read_started_kept_alive_and_tared(bluez, described):
    async with open_device(described) as device:
        assert device.can_tare
        assert dict(device.steps) == {"scale": pytest.approx(0.1)}
        bluez.tell("notify", A, uuid("fff1"), [own_packet(1234), "aa04d200", own_packet(-15)])
        readings = await take(device, 2)
        await device.tare()
        assert bluez.tell("written", A, uuid("fff2")) == ["01", "5400"]
        bluez.tell("stream", A, uuid("fff1"), [own_packet(0)] * 20, 20)
        await take(device, 15)
    written = bluez.tell("written", A, uuid("fff2"))
    assert 2 <= written.count("0a") <= 5
    assert [reading.value for reading in readings] == pytest.approx([123.4, -1.5])
    assert device.facts()["packets_rejected"] == 1


async def test_a_tare_that_the_device_refuses_is_named(bluez, described):
    async with open_device(described) as device:
        refusal = ["org.bluez.Error.Failed", "Operation failed with ATT error: 0x80"]
        bluez.tell("fault", A, f"refuse write {uuid('fff2')}", refusal)
        with pytest.raises(DeviceDeniedError, match=r"the tare command \(54 00\)"):
            await device.tare()


async def test_a_description_of_another_device(bluez, described):
    bluez.tell("device", "C0:FF:EE:00:00:02", services=SCALE)
    with pytest.raises(DeviceUnreadableError, match=r"it has no 0000fff1.*It offers: service 0x181D"):
        await open_device(described.replace(A, "C0:FF:EE:00:00:02")).__aenter__()


# Nothing is loaded that is not used


def test_the_bluetooth_library_is_loaded_for_bluetooth_alone():
    program = (
        "import sys, drivers, drivers.bluetooth_scan\n"
        "drivers.open_device('serial:/dev/null')\n"
        "before = 'bleak' in sys.modules\n"
        "drivers.open_device('ble:AA:BB:CC:DD:EE:FF')\n"
        "print(before, 'bleak' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], check=True, cwd=ROOT, timeout=240, capture_output=True, text=True
    )
    assert done.stdout.split() == ["False", "True"]

"""BTHome broadcasts: heard without a connection, repetitions dropped, encrypted ones reported."""

from __future__ import annotations

import asyncio
from functools import partial

import pytest

from drivers import (
    AddressError,
    ChannelNames,
    DeviceError,
    DeviceNotFoundError,
    DeviceSilentError,
    DeviceUnreadableError,
    open_device,
)
from drivers.bluetooth_scan import scan_bluetooth
from drivers.bthome_listener import Repeats
from tests.drivers import listening
from tests.peers.bluez import SCALE, WEIGHT, uuid, weights

A = "C0:FF:EE:00:00:01"
B = "C0:FF:EE:00:00:02"
C = "C0:FF:EE:00:00:03"
BTHOME = uuid("fcd2")

take = partial(listening.take, within_s=10)


async def the_end(device):
    with pytest.raises(DeviceError) as caught:
        await take(device, 10_000)
    return caught.value


# Payloads with their values: https://bthome.io/format, and read by bthome-ble 3.25.0.
TEMPERATURE_25 = "4002c40903bf13"
MASS_80300_G = "40065e1f"
BATTERY_97 = "40016102ca09"


async def test_temperature_mass_and_battery_are_heard(bluez):
    bluez.tell("device", A, name="Sensor", advert_interval_s=0.05)
    bluez.tell("broadcast", A, BTHOME, [TEMPERATURE_25, MASS_80300_G, BATTERY_97], times=2)
    async with open_device(f"bthome:{A.lower()}", ChannelNames("scale", "kettle")) as device:
        readings = await take(device, 3)
        assert bluez.tell("state", A)["connects"] == 0
    assert [(one.channel, one.value) for one in readings] == [
        ("kettle", 25.0),
        ("scale", 80300.0),
        ("kettle", 25.06),
    ]
    assert device.battery_percent == 97
    assert dict(device.steps) == {"kettle": 0.01, "scale": 10.0}
    assert bluez.tell("discoveries") == 0


async def test_repetitions_are_told_by_their_packet_id(bluez):
    packets = [
        f"4000{number:02x}02{temperature}" for number, temperature in ((1, "c409"), (2, "c409"), (3, "ca09"))
    ]
    bluez.tell("device", A, advert_interval_s=0.03)
    bluez.tell("broadcast", A, BTHOME, packets, times=8)
    async with open_device(f"bthome:{A}?silent_s=1") as device:
        readings = await take(device, 3)
        await asyncio.sleep(0.3)
    assert [one.value for one in readings] == [25.0, 25.0, 25.06]
    assert device.facts()["packets_repeated"] >= 14


def test_without_a_packet_id_an_equal_payload_is_a_repetition_for_a_second():
    repeats = Repeats()
    assert [repeats.again(time_s, b"\x40", None) for time_s in (0.0, 0.5, 0.99, 1.0, 1.5)] == [
        False,
        True,
        True,
        False,
        True,
    ]
    assert not repeats.again(1.6, b"\x41", None)


def test_a_packet_id_decides_alone():
    repeats = Repeats()
    assert not repeats.again(0.0, b"\x40\x00\x01", 1)
    assert repeats.again(50.0, b"\x40\x00\x01", 1)
    assert not repeats.again(50.1, b"\x40\x00\x02", 2)


async def test_encrypted_broadcasts_are_reported(bluez, monkeypatch):
    monkeypatch.setattr("drivers.bthome_listener.ENCRYPTED_S", 0.2)
    bluez.tell("device", A, advert_interval_s=0.05)
    bluez.tell("broadcast", A, BTHOME, [f"41a47266c95f{number:02x}001122337808" for number in range(40)])
    async with open_device(f"bthome:{A}?silent_s=5") as device:
        error = await the_end(device)
    assert isinstance(error, DeviceUnreadableError)
    assert "encrypted" in error.what
    assert device.facts()["packets_encrypted"] > 1


async def test_a_device_that_broadcasts_neither_weight_nor_temperature(bluez):
    bluez.tell("device", A, advert_interval_s=0.05)
    bluez.tell("broadcast", A, BTHOME, ["400161", "400160"] * 30)
    async with open_device(f"bthome:{A}?silent_s=0.3") as device:
        error = await the_end(device)
    assert "no weight or temperature" in error.what


async def test_a_silent_one_is_told_with_the_others_that_are_heard(bluez):
    bluez.tell("device", B, name="Other Sensor", advert_interval_s=0.05)
    bluez.tell("broadcast", B, BTHOME, [TEMPERATURE_25])
    async with open_device(f"bthome:{A}?silent_s=0.5") as device:
        error = await the_end(device)
    assert isinstance(error, DeviceSilentError)
    assert f"Other Sensor ({B}" in error.remedy


async def test_damaged_broadcasts_are_counted(bluez):
    bluez.tell("device", A, advert_interval_s=0.05)
    bluez.tell("broadcast", A, BTHOME, ["4002c4", "40ff00", "", TEMPERATURE_25])
    async with open_device(f"bthome:{A}?silent_s=2") as device:
        (reading,) = await take(device, 1)
    assert reading.value == 25.0
    assert device.facts()["packets_rejected"] == 3


async def test_listening_passively(bluez):
    bluez.tell("device", A, advert_interval_s=0.05)
    bluez.tell("broadcast", A, BTHOME, [TEMPERATURE_25])
    async with open_device(f"bthome:{A}?scan=passive&silent_s=2") as device:
        assert (await take(device, 1))[0].value == 25.0
        assert bluez.tell("discoveries") == 1
    assert bluez.tell("discoveries") == 0


async def test_a_system_that_cannot_listen_passively(bluez):
    bluez.tell("reset", monitors=False)
    with pytest.raises(DeviceError, match="cannot listen passively") as caught:
        await open_device(f"bthome:{A}?scan=passive").__aenter__()
    assert "scan=passive" in caught.value.remedy


async def test_two_listeners_and_a_connected_scale_at_the_same_time(bluez):
    bluez.tell("device", A, advert_interval_s=0.05)
    bluez.tell("device", B, advert_interval_s=0.05)
    bluez.tell("device", C, name="Bench Scale", services=SCALE)
    bluez.tell("broadcast", A, BTHOME, [TEMPERATURE_25])
    bluez.tell("broadcast", B, BTHOME, [MASS_80300_G])
    async with (
        open_device(f"bthome:{A}?silent_s=3") as one,
        open_device(f"bthome:{B}?silent_s=3") as two,
        open_device(f"ble:{C}?silent_s=3") as scale,
    ):
        bluez.tell("notify", C, WEIGHT, weights(1))
        values = [(await take(device, 1))[0].value for device in (one, two, scale)]
        assert bluez.tell("discoveries") == 1
    assert values == [25.0, 80300.0, 0.0]
    assert bluez.tell("discoveries") == 0


async def test_heard_again_after_the_system_service_has_crashed(bluez, monkeypatch):
    monkeypatch.setattr("drivers.transports.bluetooth_scanner._UNHEARD_S", 0.3)
    bluez.tell("device", A, advert_interval_s=0.05)
    bluez.tell("broadcast", A, BTHOME, [TEMPERATURE_25])
    async with open_device(f"bthome:{B}?silent_s=60"), open_device(f"bthome:{A}?silent_s=0.5") as device:
        await take(device, 1)
        bluez.crash()
        assert isinstance(await the_end(device), DeviceSilentError)
        bluez.start()
        bluez.tell("device", A, advert_interval_s=0.05)
        bluez.tell("broadcast", A, BTHOME, [TEMPERATURE_25])
        async with open_device(f"bthome:{A}?silent_s=3") as again:  # while the other still listens
            await take(again, 1)


async def test_bluetooth_is_off(bluez):
    bluez.tell("power", False)
    with pytest.raises(DeviceNotFoundError, match="switched off"):
        await open_device(f"bthome:{A}").__aenter__()


async def test_it_takes_no_commands():
    device = open_device(f"bthome:{A}")
    assert not device.can_tare
    with pytest.raises(DeviceError, match="takes no commands"):
        await device.tare()


@pytest.mark.parametrize("options", ["key=00", "scan=loud", "silent_s=-1"])
def test_options_that_make_no_sense(options):
    with pytest.raises(AddressError):
        open_device(f"bthome:{A}?{options}")


# What is nearby


async def test_what_is_nearby_is_listed_readable_first(bluez):
    bluez.tell("device", A, name="Lamp", services={uuid("fff0"): {}}, rssi=-40)
    bluez.tell("device", B, name="Bench Scale", services=SCALE, rssi=-70)
    bluez.tell("device", C, rssi=-50)
    bluez.tell("broadcast", C, BTHOME, [TEMPERATURE_25])
    found = await scan_bluetooth(0.6)
    assert [one.address for one in found] == [f"bthome:{C}", f"ble:{B}", f"ble:{A}"]
    thermometer, scale, lamp = found
    assert scale.name == "Bench Scale"
    assert scale.offers == ("Weight Scale", "Battery Service")
    assert scale.readable
    assert scale.rssi_dbm in (-70, -69)
    assert thermometer.offers == ("BTHome broadcasts: temperature",)
    assert not lamp.readable
    assert all(not one.problem for one in found)


async def test_encrypted_and_connected_ones_say_what_to_do(bluez):
    bluez.tell("device", A, name="Sensor")
    bluez.tell("broadcast", A, BTHOME, ["41a47266c95f00001122337808"])
    bluez.tell("device", B, name="Bench Scale", services=SCALE)
    bluez.tell("hold", B)
    await asyncio.sleep(0.1)
    found = {one.address: one for one in await scan_bluetooth(0.5)}
    assert "encrypted" in found[f"bthome:{A}"].problem
    assert "connected to it already" in found[f"ble:{B}"].problem


async def test_why_nothing_can_be_listed(bluez):
    bluez.tell("power", False)
    (found,) = await scan_bluetooth(0.5)
    assert (found.address, found.problem) == ("", "Bluetooth is switched off")
    assert "bluetoothctl power on" in found.fix


async def test_no_bluetooth_service(monkeypatch, tmp_path):
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/none")
    (found,) = await scan_bluetooth(0.5)
    assert found.problem == "no Bluetooth service is running on this computer"

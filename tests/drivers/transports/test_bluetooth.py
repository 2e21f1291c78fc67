"""Finding, connecting and losing Bluetooth devices: the unmodified library on a stand-in for the system."""

from __future__ import annotations

import asyncio
import contextlib
import sys
import time
from pathlib import Path

import pytest

from drivers.errors import AddressError, DeviceDeniedError, DeviceError, DeviceLostError, DeviceNotFoundError
from tests.drivers.listening import until
from tests.peers.bluez import FEATURE, SCALE, WEIGHT, leave_bus, uuid, weights

pytest.importorskip("dbus_fast", reason="BlueZ is Linux' Bluetooth service")

from drivers.transports import bluetooth as transport
from drivers.transports import bluetooth_search
from drivers.transports.bluetooth import BluetoothLink
from drivers.transports.bluetooth_failures import BluetoothUnavailableError
from drivers.transports.bluetooth_scanner import listening

A = "C0:FF:EE:00:00:01"
B = "C0:FF:EE:00:00:02"
ROOT = Path(__file__).parents[3]


@pytest.fixture
def bluez(bluez, monkeypatch):
    monkeypatch.setattr(bluetooth_search, "_NAMESAKE_S", 0.3)
    return bluez


@pytest.fixture(autouse=True)
async def nothing_left_running():
    yield
    await leave_bus()
    await until(lambda: not [task for task in asyncio.all_tasks() if task.get_name().startswith("evencup")])


def link_to(target: str = A, timeout_s: float = 4.0) -> BluetoothLink:
    return BluetoothLink(f"ble:{target}", target, timeout_s)


async def subscribe_to_weight(link: BluetoothLink) -> None:
    await link.subscribe(next(one.handle for one in link.offered if one.uuid == WEIGHT))


async def nothing(_: BluetoothLink) -> None:
    return


@contextlib.asynccontextmanager
async def opened(link: BluetoothLink, prepare=subscribe_to_weight):
    await link.open(prepare)
    try:
        yield link
    finally:
        await link.close()


async def take(link: BluetoothLink, count: int) -> list[str]:
    async with asyncio.timeout(10):
        return [(await link.next()).data.hex() for _ in range(count)]


# Finding


@pytest.mark.parametrize("target", [A, A.lower(), A.replace(":", "-"), "Bench Scale", "bench scale"])
async def test_a_device_is_found_by_address_and_by_name(bluez, target):
    bluez.tell("device", B, name="Other", services=SCALE)
    bluez.tell("device", A, name="Bench Scale", services=SCALE)
    async with opened(link_to(target)) as link:
        assert (link.name, link.bluetooth_address) == ("Bench Scale", A)
        assert bluez.tell("state", A)["connected"]
        assert not bluez.tell("state", B)["connected"]
        assert bluez.tell("discoveries") == 0
    assert not bluez.tell("state", A)["connected"]


async def test_a_device_that_is_not_there_is_told_with_those_that_are(bluez):
    bluez.tell("device", B, name="Other Scale", services=SCALE, rssi=-71)
    with pytest.raises(DeviceNotFoundError, match=r"not heard within 0\.5 s") as caught:
        await link_to(timeout_s=1.0).open(nothing)
    assert f"Other Scale ({B}, -7" in caught.value.remedy
    assert bluez.tell("discoveries") == 0


async def test_two_devices_of_one_name_are_told_apart_by_their_addresses(bluez):
    bluez.tell("device", A, name="Scale", services=SCALE)
    bluez.tell("device", B, name="Scale", services=SCALE)
    with pytest.raises(AddressError, match=f"Use one of: ble:{A}, ble:{B}"):
        await link_to("Scale").open(nothing)


async def test_all_searches_of_a_process_share_one_scan(bluez):
    bluez.tell("device", A, name="One", services=SCALE)
    bluez.tell("device", B, name="Two", services=SCALE)
    heard = []
    async with listening("bthome:X", heard.append), opened(link_to("One")), opened(link_to("Two")):
        assert bluez.tell("discoveries") == 1
    assert {one.address for one in heard} == {A, B}
    assert bluez.tell("discoveries") == 0


async def test_every_advertisement_is_heard(bluez):
    bluez.tell("device", A, name="One", advert_interval_s=0.05)
    heard = []
    async with listening("bthome:X", heard.append):
        await asyncio.sleep(1.0)
    assert 10 <= len(heard) <= 21
    assert all(one.rssi_dbm in (-60, -59) for one in heard)


async def test_a_scan_that_is_cancelled_at_any_moment_is_stopped(bluez):
    for wait_s in (0.0, 0.001, 0.003, 0.01, 0.05):
        task = asyncio.create_task(link_to(B, timeout_s=3.0).open(nothing))
        await asyncio.sleep(wait_s)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        assert bluez.tell("discoveries") == 0


async def test_another_program_that_is_scanning_is_waited_for(bluez):
    bluez.tell("device", A, services=SCALE)
    bluez.tell("busy", 2)
    async with opened(link_to()):
        assert bluez.tell("state", A)["connected"]


# What Bluetooth as a whole may lack


async def test_another_program_that_scans_for_ever(bluez):
    bluez.tell("busy", 99)
    with pytest.raises(DeviceDeniedError, match="another program") as caught:
        await link_to().open(nothing)
    assert "Close" in caught.value.remedy


async def test_adapter_switched_off(bluez):
    bluez.tell("power", False)
    with pytest.raises(BluetoothUnavailableError, match="switched off") as caught:
        await link_to().open(nothing)
    assert "bluetoothctl power on" in caught.value.remedy


async def test_no_adapter(bluez):
    bluez.tell("unplug_adapter")
    with pytest.raises(BluetoothUnavailableError, match="no Bluetooth adapter"):
        await link_to().open(nothing)


async def test_an_adapter_without_low_energy(bluez):
    bluez.tell("classic_only")
    with pytest.raises(BluetoothUnavailableError, match="cannot connect to Bluetooth LE"):
        await link_to().open(nothing)


async def test_a_user_without_the_right(bluez):
    bluez.tell("deny")
    with pytest.raises(DeviceDeniedError, match="may not use Bluetooth") as caught:
        await link_to().open(nothing)
    assert "usermod -aG bluetooth" in caught.value.remedy


async def test_no_service_on_the_bus(bluez):
    bluez.stop()
    with pytest.raises(BluetoothUnavailableError, match="no Bluetooth service") as caught:
        await link_to().open(nothing)
    assert "systemctl start bluetooth" in caught.value.remedy


async def test_no_bus_at_all(monkeypatch, tmp_path):
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/none")
    with pytest.raises(BluetoothUnavailableError, match="no Bluetooth service"):
        await link_to().open(nothing)


# Connecting


async def test_a_device_out_of_range_is_given_up_in_time(bluez):
    bluez.tell("device", A, name="Bench Scale", services=SCALE)
    bluez.tell("fault", A, "no answer")
    begun_s = time.monotonic()
    with pytest.raises(DeviceNotFoundError, match="it has been seen but no connection was made within"):
        await link_to(timeout_s=3.0).open(nothing)
    assert time.monotonic() - begun_s < 6.0
    assert not bluez.tell("state", A)["connected"]


@pytest.mark.parametrize("kind", ["drop in discovery", "discovery hangs"])
async def test_a_discovery_that_fails_is_tried_again(bluez, kind, monkeypatch):
    monkeypatch.setattr(transport, "_AFTER_TIMEOUT_S", 0.3)
    bluez.tell("device", A, services=SCALE)
    bluez.tell("fault", A, kind, times=1)
    async with opened(link_to(timeout_s=3.0)) as link:
        bluez.tell("notify", A, WEIGHT, weights(1))
        assert await take(link, 1) == weights(1)
    assert bluez.tell("state", A)["connects"] == 2


async def test_a_discovery_that_hangs_for_ever_is_given_up(bluez):
    bluez.tell("device", A, services=SCALE)
    bluez.tell("fault", A, "discovery hangs")
    with pytest.raises(DeviceNotFoundError, match="no connection was made"):
        await link_to(timeout_s=2.0).open(nothing)
    assert not bluez.tell("state", A)["connected"]


async def test_a_device_that_refuses_connections(bluez):
    bluez.tell("device", A, services=SCALE)
    bluez.tell("fault", A, "refuse connect", ["org.bluez.Error.Failed", "Software caused connection abort"])
    with pytest.raises(DeviceNotFoundError, match=r"cannot be connected to .*connection abort") as caught:
        await link_to(timeout_s=2.0).open(nothing)
    assert "disconnect it from any phone" in caught.value.remedy


async def test_a_device_that_wants_to_be_paired(bluez):
    bluez.tell("device", A, services=SCALE)
    bluez.tell(
        "fault", A, "refuse connect", ["org.bluez.Error.AuthenticationFailed", "Authentication Failed"]
    )
    with pytest.raises(DeviceDeniedError, match="wants to be paired") as caught:
        await link_to().open(nothing)
    assert "bluetoothctl" in caught.value.remedy


async def test_a_device_that_wants_to_be_paired_before_it_sends(bluez):
    bluez.tell("device", A, services=SCALE)
    refusal = ["org.bluez.Error.Failed", "Operation failed with ATT error: 0x05"]
    bluez.tell("fault", A, f"refuse notify {WEIGHT}", refusal)
    with pytest.raises(DeviceDeniedError, match="wants to be paired"):
        await link_to().open(subscribe_to_weight)
    assert not bluez.tell("state", A)["connected"]


@pytest.mark.parametrize("after_s", [0.0, 0.005, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3])
async def test_cancelled_anywhere_the_device_is_let_go(bluez, after_s):
    bluez.tell("device", A, services=SCALE)
    link = link_to()
    task = asyncio.create_task(link.open(subscribe_to_weight))
    await asyncio.sleep(after_s)
    task.cancel()
    try:
        await task
    except asyncio.CancelledError:
        pass
    else:
        await link.close()  # it was open before it could be cancelled
    await until(lambda: not bluez.tell("state", A)["connected"])
    await until(lambda: bluez.tell("state", A)["sessions"] == 0)
    assert bluez.tell("discoveries") == 0


# Taken over from a program that was killed

CONNECT_AND_STAY = """
import asyncio, sys
from drivers.transports.bluetooth import BluetoothLink

async def nothing(_):
    pass

async def main():
    await BluetoothLink("ble:x", sys.argv[1], 5).open(nothing)
    print("connected", flush=True)
    await asyncio.sleep(60)

asyncio.run(main())
"""


async def test_a_device_that_a_killed_program_left_connected_is_taken_over(bluez):
    bluez.tell("device", A, name="Bench Scale", services=SCALE)
    other = await asyncio.create_subprocess_exec(
        sys.executable, "-c", CONNECT_AND_STAY, A, cwd=ROOT, stdout=asyncio.subprocess.PIPE
    )
    try:
        async with asyncio.timeout(20):
            assert await other.stdout.readline() == b"connected\n"
    finally:
        other.kill()
        await other.wait()
    assert bluez.tell("state", A)["connected"]  # nobody holds it, and no scan shows it
    async with opened(link_to("Bench Scale")) as link:
        bluez.tell("notify", A, WEIGHT, weights(2))
        assert await take(link, 2) == weights(2)
    # The stand-in hears from the bus, a moment later, that a session has left it.
    await until(lambda: bluez.tell("state", A)["sessions"] == 0)
    assert bluez.tell("state", A) == {"connected": False, "connects": 1, "disconnects": 1, "sessions": 0}


async def test_a_held_device_that_does_not_react_is_let_go_and_found_again(bluez):
    bluez.tell("device", A, name="Bench Scale", services=SCALE)
    bluez.tell("hold", A)
    await asyncio.sleep(0.1)
    bluez.tell("fault", A, f"refuse notify {WEIGHT}", ["org.bluez.Error.Failed", "Not connected"], times=1)
    async with opened(link_to()) as link:
        bluez.tell("notify", A, WEIGHT, weights(1))
        assert await take(link, 1) == weights(1)
    assert bluez.tell("state", A)["connects"] == 2


# In use


async def test_what_came_before_the_end_is_given_first(bluez):
    bluez.tell("device", A, services=SCALE)
    async with opened(link_to()) as link:
        bluez.tell("notify", A, WEIGHT, weights(50))
        bluez.tell("gone", A)
        assert await take(link, 50) == weights(50)
        for _ in range(2):
            with pytest.raises(DeviceLostError, match="the Bluetooth link broke"):
                await asyncio.wait_for(link.next(), 5)
        with pytest.raises(DeviceLostError):
            await link.read(link.offered[0].handle)


async def test_packets_are_stamped_where_they_arrive(bluez):
    bluez.tell("device", A, services=SCALE)
    async with opened(link_to()) as link:
        bluez.tell("stream", A, WEIGHT, weights(20), 20)
        await asyncio.sleep(1.5)  # nobody takes them off meanwhile
        times = [(await link.next()).time_s for _ in range(20)]
    assert times[-1] - times[0] == pytest.approx(0.95, abs=0.25)
    assert times == sorted(times)


async def test_more_packets_than_may_wait_are_counted(bluez, monkeypatch):
    monkeypatch.setattr(transport, "_WAITING_PACKETS", 10)
    bluez.tell("device", A, services=SCALE)
    async with opened(link_to()) as link:
        bluez.tell("notify", A, WEIGHT, weights(25))
        await until(lambda: link.overruns == 15)
        assert await take(link, 10) == weights(10)


async def test_a_refused_command_is_named(bluez):
    command = uuid("fff2")
    bluez.tell("device", A, services={uuid("fff0"): {command: {"flags": ["write"]}}})
    async with opened(link_to(), nothing) as link:
        handle = link.offered[0].handle
        await link.write(handle, b"\x07\x01", "the tare command")
        assert bluez.tell("written", A, command) == ["0701"]
        bluez.tell(
            "fault", A, f"refuse write {command}", ["org.bluez.Error.InvalidArguments", "Invalid Length"]
        )
        with pytest.raises(DeviceDeniedError, match=r"sending the tare command \(07 01\).*Invalid Attribute"):
            await link.write(handle, b"\x07\x01", "the tare command")
        bluez.tell(
            "fault",
            A,
            f"refuse write {command}",
            ["org.bluez.Error.Failed", "Operation failed with ATT error: 0x80"],
        )
        with pytest.raises(DeviceDeniedError, match="0x80"):
            await link.write(handle, b"\x07\x01", "the tare command")


async def test_a_read_that_is_not_answered_is_a_lost_link(bluez, monkeypatch):
    monkeypatch.setattr(transport, "ANSWER_S", 0.3)
    bluez.tell("device", A, services=SCALE)
    async with opened(link_to(), nothing) as link:
        bluez.tell("stall", A, True)
        handle = next(one.handle for one in link.offered if one.uuid == FEATURE)
        with pytest.raises(DeviceLostError, match="does not answer any more"):
            await link.read(handle)


async def test_a_disconnect_that_hangs_is_bounded(bluez, monkeypatch):
    monkeypatch.setattr(transport, "DISCONNECT_S", 0.3)
    bluez.tell("device", A, services=SCALE)
    link = link_to()
    await link.open(subscribe_to_weight)
    bluez.tell("fault", A, "no disconnect", times=1)
    begun_s = time.monotonic()
    await link.close()
    assert time.monotonic() - begun_s < 3.0
    await link.close()


async def test_closing_that_is_cancelled_still_lets_the_device_go(bluez):
    bluez.tell("device", A, services=SCALE)
    link = link_to()
    await link.open(subscribe_to_weight)
    task = asyncio.create_task(link.close())
    await asyncio.sleep(0)
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task
    await until(lambda: not bluez.tell("state", A)["connected"])
    async with opened(link_to()) as again:  # and it can be had again
        bluez.tell("notify", A, WEIGHT, weights(1))
        assert await take(again, 1) == weights(1)


async def test_the_bus_itself_ends(bluez):
    bluez.tell("device", A, services=SCALE)
    async with opened(link_to()) as link:
        bluez.stop_bus()
        with pytest.raises(DeviceLostError):
            await asyncio.wait_for(link.next(), 5)
    with pytest.raises(BluetoothUnavailableError, match="no Bluetooth service"):
        await link_to().open(nothing)


async def test_switching_the_adapter_off_ends_the_link(bluez):
    bluez.tell("device", A, services=SCALE)
    async with opened(link_to()) as link:
        bluez.tell("power", False)
        with pytest.raises(DeviceError):
            await asyncio.wait_for(link.next(), 5)

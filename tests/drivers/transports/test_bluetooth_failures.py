"""Every way in which the Bluetooth library fails becomes an error that says what to do."""

from __future__ import annotations

import asyncio
import sys

import pytest

pytest.importorskip("bleak", reason="pip install bleak")

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from drivers.errors import DeviceDeniedError, DeviceLostError, DeviceNotFoundError
from drivers.transports import bluetooth_failures
from drivers.transports.bluetooth_failures import (
    BluetoothDeniedError,
    BluetoothUnavailableError,
    bluetooth_error,
    connecting_error,
    using_error,
)
from drivers.transports.uncancelled import to_the_end, within

ADDRESS = "ble:AA:BB:CC:DD:EE:FF"


@pytest.mark.parametrize("reason", list(BleakBluetoothNotAvailableReason))
def test_every_reason_why_bluetooth_is_not_available_is_told(reason):
    error = bluetooth_error(ADDRESS, BleakBluetoothNotAvailableError("the system's words", reason))
    assert isinstance(error, BluetoothDeniedError if "DENIED" in reason.name else BluetoothUnavailableError)
    assert error.remedy.endswith((".", ")"))


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32", "other"])
def test_the_way_to_switch_on_is_that_of_the_system(platform, monkeypatch):
    monkeypatch.setattr(sys, "platform", platform)
    off = BleakBluetoothNotAvailableError("off", BleakBluetoothNotAvailableReason.POWERED_OFF)
    error = bluetooth_error(ADDRESS, off)
    assert ("bluetoothctl" in error.remedy) == (platform == "linux")


@pytest.mark.parametrize(
    ("name", "kind", "words"),
    [
        ("org.freedesktop.DBus.Error.ServiceUnknown", BluetoothUnavailableError, "no Bluetooth service"),
        ("org.freedesktop.DBus.Error.AccessDenied", BluetoothDeniedError, "may not use"),
        ("org.bluez.Error.NotReady", BluetoothUnavailableError, "switched off"),
        ("org.bluez.Error.InProgress", BluetoothDeniedError, "another program"),
        ("org.bluez.Error.AuthenticationRejected", DeviceDeniedError, "paired"),
        ("org.bluez.Error.AuthenticationCanceled", DeviceDeniedError, "paired"),
        ("org.bluez.Error.Failed", DeviceNotFoundError, "cannot be connected to"),
    ],
)
def test_errors_of_the_bus_while_connecting(name, kind, words):
    error = connecting_error(ADDRESS, BleakDBusError(name, ["the service's words"]), 10)
    assert type(error) is kind
    assert words in error.what


@pytest.mark.parametrize("raised", [FileNotFoundError(2, "none"), ConnectionRefusedError(), EOFError()])
def test_no_bus(raised, monkeypatch):
    monkeypatch.setattr(bluetooth_failures, "_LINUX", True)
    assert isinstance(bluetooth_error(ADDRESS, raised), BluetoothUnavailableError)
    monkeypatch.setattr(bluetooth_failures, "_LINUX", False)
    assert bluetooth_error(ADDRESS, raised) is None  # other systems raise these for the device itself


def test_a_timeout_while_connecting_is_the_device_although_it_is_an_os_error():
    assert issubclass(TimeoutError, OSError)
    error = connecting_error(ADDRESS, TimeoutError(), 10)
    assert type(error) is DeviceNotFoundError
    assert "within 10 s" in error.what


@pytest.mark.parametrize(
    "raised",
    [
        BleakError("Service Discovery has not been performed yet"),
        BleakError("Not connected"),
        BleakDBusError("org.freedesktop.DBus.Error.UnknownObject", ["gone"]),
        BleakDeviceNotFoundError("AA", "removed"),
        TimeoutError(),
        EOFError(),
    ],
)
def test_what_is_raised_after_a_drop_is_a_lost_link(raised):
    assert isinstance(using_error(ADDRESS, "reading", raised), DeviceLostError)


@pytest.mark.parametrize("code", list(BleakGATTProtocolErrorCode))
def test_every_refusal_of_a_device_is_a_denial_with_its_reason(code):
    error = using_error(ADDRESS, "sending the tare command (54)", BleakGATTProtocolError(code))
    assert isinstance(error, DeviceDeniedError)
    assert ("paired" in error.what) == code.name.startswith("INSUFFICIENT_") or code.name.endswith("RESOURCE")
    assert "sending the tare command" in error.what or "paired" in error.what


async def test_work_that_hangs_even_when_cancelled_is_left_behind(monkeypatch):
    monkeypatch.setattr("drivers.transports.uncancelled._AFTERWARDS_S", 0.05)
    forever = asyncio.Event()

    async def hang():
        try:
            await forever.wait()
        finally:
            await asyncio.sleep(0.3)

    with pytest.raises(TimeoutError):
        await within(0.05, hang(), "evencup test")


async def test_work_to_the_end_survives_its_caller():
    done = asyncio.Event()

    async def work():
        await asyncio.sleep(0.05)
        done.set()

    caller = asyncio.create_task(to_the_end(work(), "evencup test"))
    await asyncio.sleep(0)
    caller.cancel()
    with pytest.raises(asyncio.CancelledError):
        await caller
    await asyncio.wait_for(done.wait(), 5)

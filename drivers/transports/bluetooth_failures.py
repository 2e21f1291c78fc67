"""What a failing Bluetooth link means, and what the user can do about it."""

from __future__ import annotations

import sys

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from drivers.errors import DeviceDeniedError, DeviceError, DeviceLostError, DeviceNotFoundError

_SERVICE_AWAY = (
    "org.freedesktop.DBus.Error.ServiceUnknown",
    "org.freedesktop.DBus.Error.NameHasNoOwner",
    "org.freedesktop.DBus.Error.NoReply",
    "org.freedesktop.DBus.Error.Spawn.ExecFailed",
    "org.freedesktop.DBus.Error.Spawn.ChildExited",
)
_DENIED = ("org.freedesktop.DBus.Error.AccessDenied",)
_BUSY = ("org.bluez.Error.InProgress",)
_OFF = ("org.bluez.Error.NotReady",)
_PAIRING = ("org.bluez.Error.Authentication", "org.bluez.Error.NotPermitted")
_PAIRING_CODES = (
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHENTICATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHORIZATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION_KEY_SIZE,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION,
)
_CLOSER = (
    "Wake it, bring it closer, and disconnect it from any phone or other computer: "
    "most devices talk to one at a time."
)

_LINUX = sys.platform == "linux"


class BluetoothUnavailableError(DeviceNotFoundError):
    """Bluetooth as a whole cannot be used: no adapter, switched off, no service; no device's fault."""


class BluetoothDeniedError(DeviceDeniedError):
    """Bluetooth as a whole is denied to this user or program."""


def bluetooth_error(address: str, error: BaseException) -> DeviceError | None:
    """Say why Bluetooth as a whole cannot be used; None where it can, so far as the failure tells.

    :param address: as the user wrote it
    """
    if isinstance(error, BleakBluetoothNotAvailableError):
        return _not_available(address, error)
    if isinstance(error, BleakDBusError):
        return _bus_error(address, error)
    if _LINUX and (
        (isinstance(error, OSError | EOFError) and not isinstance(error, TimeoutError))
        or type(error).__module__.startswith("dbus_fast")
    ):
        return _no_service(address)
    return None


def connecting_error(address: str, error: BaseException, limit_s: float) -> DeviceError:
    """Translate what was raised while connecting to a device that has been seen."""
    if failure := bluetooth_error(address, error) or _pairing_error(address, error):
        return failure
    if isinstance(error, TimeoutError):
        return DeviceNotFoundError(
            address, f"it has been seen but no connection was made within {limit_s:g} s", _CLOSER
        )
    return DeviceNotFoundError(
        address, f"it has been seen but cannot be connected to ({_said(error)})", _CLOSER
    )


def using_error(address: str, doing: str, error: BaseException) -> DeviceError:
    """Translate what was raised while a connected device was used.

    :param doing: what was tried, to follow "while": ``reading the battery``
    """
    if failure := _pairing_error(address, error):
        return failure
    if isinstance(error, BleakGATTProtocolError):
        return DeviceDeniedError(
            address,
            f"the device refused, while {doing}: {_gatt_text(error)}",
            "Check the description against the device's manual, or leave that part out.",
        )
    if isinstance(error, TimeoutError):
        return DeviceLostError(address, f"it does not answer any more, while {doing}", _CLOSER)
    return lost_error(address)


def lost_error(address: str) -> DeviceLostError:
    """Say that the link broke while it was in use."""
    return DeviceLostError(
        address,
        "the Bluetooth link broke",
        "It is out of range, asleep, switched off, or its battery is flat: wake it or bring it closer.",
    )


def unanswered_error(address: str) -> DeviceError:
    """Say that the system's Bluetooth does not react at all."""
    remedy = "Run: sudo systemctl restart bluetooth" if _LINUX else "Switch Bluetooth off and on again."
    return BluetoothUnavailableError(address, "this computer's Bluetooth does not answer", remedy)


def _not_available(address: str, error: BleakBluetoothNotAvailableError) -> DeviceError:
    reason = BleakBluetoothNotAvailableReason
    if error.reason is reason.POWERED_OFF:
        return _switched_off(address)
    if error.reason is reason.NO_BLUETOOTH:
        return BluetoothUnavailableError(
            address,
            "this computer has no Bluetooth adapter, or none that is enabled",
            "Plug in a Bluetooth LE adapter (or run: rfkill unblock bluetooth) and try again."
            if _LINUX
            else "Plug in a Bluetooth LE adapter and try again.",
        )
    if error.reason is reason.NO_BLE_CENTRAL_ROLE:
        return BluetoothUnavailableError(
            address,
            "this computer's Bluetooth adapter cannot connect to Bluetooth LE devices",
            "Use an adapter for Bluetooth 4.0 or later.",
        )
    if error.reason is reason.UNKNOWN:
        return BluetoothUnavailableError(
            address, f"Bluetooth cannot be used: {error.args[0]}", "Switch Bluetooth off and on again."
        )
    return _denied(address)


def _bus_error(address: str, error: BleakDBusError) -> DeviceError | None:
    name = error.dbus_error
    if name in _SERVICE_AWAY:
        return _no_service(address)
    if name in _DENIED:
        return _denied(address)
    if name in _OFF:
        return _switched_off(address)
    if name in _BUSY:
        return BluetoothDeniedError(
            address,
            "another program is using Bluetooth for a search of its own",
            "Close the system's Bluetooth window or the other program, wait ten seconds and try again.",
        )
    return None


def _no_service(address: str) -> DeviceError:
    return BluetoothUnavailableError(
        address,
        "no Bluetooth service is running on this computer",
        "Install and start it: sudo apt-get install bluez && sudo systemctl start bluetooth",
    )


def _switched_off(address: str) -> DeviceError:
    remedies = {
        "linux": "Run: bluetoothctl power on (if that fails: rfkill unblock bluetooth)",
        "darwin": "Switch it on in System Settings, Bluetooth.",
        "win32": "Switch it on in Settings, Bluetooth & devices.",
    }
    remedy = remedies.get(sys.platform, "Switch it on in the system's settings.")
    return BluetoothUnavailableError(address, "Bluetooth is switched off", remedy)


def _denied(address: str) -> DeviceError:
    remedies = {
        "linux": "Run: sudo usermod -aG bluetooth $USER, then log out and in again.",
        "darwin": "Allow your terminal in System Settings, Privacy & Security, Bluetooth, and restart it.",
        "win32": "Allow it in Settings, Privacy & security, Radios.",
    }
    remedy = remedies.get(sys.platform, "Allow it in the system's settings.")
    return BluetoothDeniedError(address, "this user may not use Bluetooth", remedy)


def _pairing_error(address: str, error: BaseException) -> DeviceError | None:
    unpaired = (isinstance(error, BleakGATTProtocolError) and error.code in _PAIRING_CODES) or (
        isinstance(error, BleakDBusError) and error.dbus_error.startswith(_PAIRING)
    )
    if not unpaired:
        return None
    return DeviceDeniedError(
        address,
        f"the device wants to be paired, or refused it ({_said(error)})",
        "Pair it once: bluetoothctl, then 'scan on' until it appears, then 'pair' and its Bluetooth address."
        if _LINUX
        else "Pair it once in the system's Bluetooth settings.",
    )


def _gatt_text(error: BleakGATTProtocolError) -> str:
    text = str(error.args[1]).partition(": ")[2]
    return text if "0x" in text else f"{text} (0x{int(error.code):02X})"


def _said(error: BaseException) -> str:
    if isinstance(error, BleakGATTProtocolError):
        return _gatt_text(error)
    if isinstance(error, BleakDBusError):
        return error.dbus_error_details or error.dbus_error
    return str(error) if isinstance(error, BleakError) and str(error) else type(error).__name__

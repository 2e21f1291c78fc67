"""What is connected, in one table, whatever it is connected by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from logger.show.terminal.text import is_plain, print_words, words_table

if TYPE_CHECKING:
    from rich.console import Console

    from drivers.bluetooth_scan import BluetoothFound
    from drivers.hid_ports import HidScaleFound
    from drivers.ports import SerialPortFound
    from logger.bench.named import NamedDevice

NONE_FOUND = (
    "Nothing was found. Plug the scale in, or wake it, and look again; is its cable one that carries data?"
)
WITHOUT_HARDWARE = (
    "Without hardware: --scale 'simulated:TARGET?seed=3' or --scale 'playback:RECORDING?speed=8'"
)


@dataclass(frozen=True, slots=True)
class DeviceFound:
    """One device that was found.

    :param kind: how it is connected
    :param address: what to give evencup
    :param says: what it says of itself
    :param details: USB id, signal strength, what it offers
    :param problem: why it cannot be used as it is; empty where nothing is known against it
    :param fix: what to do about that
    """

    kind: Literal["serial", "hid", "bluetooth"]
    address: str
    says: str
    details: str
    problem: str = ""
    fix: str = ""


def of_serial(port: SerialPortFound) -> DeviceFound:
    """Make an entry of a serial port."""
    usb = f"USB {port.usb_id}" if port.usb_id else ""
    return DeviceFound("serial", port.address, port.description, usb, port.problem, port.fix)


def of_hid(scale: HidScaleFound) -> DeviceFound:
    """Make an entry of a USB HID scale."""
    return DeviceFound(
        "hid", scale.address, scale.description, f"USB {scale.usb_id}", scale.problem, scale.fix
    )


def of_bluetooth(device: BluetoothFound) -> DeviceFound:
    """Make an entry of a Bluetooth device."""
    signal = [f"{device.rssi_dbm} dBm"] if device.rssi_dbm is not None else []
    details = ", ".join([*device.offers, *signal])
    return DeviceFound("bluetooth", device.address, device.name, details, device.problem, device.fix)


def print_devices(found: Sequence[DeviceFound], named: Sequence[NamedDevice], console: Console) -> None:
    """Print the brewer's own devices, then what was found, then what stands in the way."""
    plain = is_plain(console)
    if named:
        rows = [(device.name, device.address, _examined(device)) for device in named]
        console.print(words_table(("yours", "address", "examined"), rows, plain, cut=()))
        console.print()
    there = [device for device in found if device.address]
    if there:
        rows = [(device.address, device.says, device.details) for device in there]
        console.print(words_table(("address", "what it says it is", ""), rows, plain, cut=()))
        console.print()
    else:
        print_words(console, NONE_FOUND)
    for device in found:
        if device.problem:
            where = device.address or device.kind.capitalize()
            print_words(console, f"! {where}: {device.problem}. {device.fix}".rstrip())
    print_words(console, WITHOUT_HARDWARE)


def _examined(device: NamedDevice) -> str:
    figures = []
    if device.step_g is not None:
        figures.append(f"steps of {device.step_g:g} g")
    if device.response_s is not None:
        figures.append(f"response {device.response_s:.2f} s")
    when = f"{device.tested:%Y-%m-%d}: " if device.tested else ""
    return f"{when}{', '.join(figures)}" if figures else "not yet"

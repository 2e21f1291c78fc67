"""The serial ports of this machine: what is connected, and why a port cannot be opened."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

_BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class SerialPortFound:
    """A serial port that is there.

    :param address: what to give evencup; by a name that survives plugging in again, where there is one
    :param port: the port itself, ``/dev/ttyUSB0`` or ``COM3``
    :param description: what the device says of itself
    :param usb_id: vendor and product, ``1a86:7523``; empty where it is no USB device
    :param problem: why this user cannot open it; empty where nothing is known against it
    :param fix: what to do about that, one line
    """

    address: str
    port: str
    description: str
    usb_id: str = ""
    problem: str = ""
    fix: str = ""


def serial_ports() -> list[SerialPortFound]:
    """List the serial ports that are connected now, in the order of their names."""
    from serial.tools.list_ports import comports

    stable_names = _stable_names(_BY_ID)
    found = []
    for info in sorted(comports()):
        usb_id = "" if info.vid is None else f"{info.vid:04x}:{info.pid:04x}"
        description = "" if info.description in (None, "n/a") else info.description
        allowed = os.access(info.device, os.R_OK | os.W_OK) if os.name == "posix" else True
        found.append(
            SerialPortFound(
                f"serial:{stable_names.get(info.device, info.device)}",
                info.device,
                description,
                usb_id,
                "" if allowed else "this user may not open it",
                "" if allowed else permission_fix(info.device),
            )
        )
    return found


def ports_hint() -> str:
    """Say which ports could have been meant, for a message about one that is not there."""
    addresses = [found.address for found in serial_ports()]
    if not addresses:
        return "No serial port is connected: plug the device in, switch it on and try again."
    return f"Connected are: {', '.join(addresses)}."


def permission_fix(port: str) -> str:
    """Say how a user gets permission to open a port: the group that owns it, a line to paste."""
    if os.name != "posix":
        return "Close the program that uses it, or ask who looks after this computer."
    import grp

    try:
        status = Path(port).stat()
        group = grp.getgrgid(status.st_gid)
    except (OSError, KeyError):
        return "Ask who looks after this computer for the right to use serial ports."
    if status.st_gid == 0 or status.st_mode & 0o060 != 0o060:
        return f"Run: sudo chmod a+rw {port} (it holds until the device is plugged in again)."
    if _is_member(group.gr_mem):
        return f"You are in the group {group.gr_name} already: log out and in again."
    return f"Run: sudo usermod -aG {group.gr_name} $USER, then log out and in again."


def _is_member(members: list[str]) -> bool:
    import pwd

    try:
        return pwd.getpwuid(os.geteuid()).pw_name in members
    except KeyError:
        return False


def _stable_names(folder: Path) -> dict[str, str]:
    """Map ports to names made from the device's own identity (Linux)."""
    try:
        return {str(link.resolve()): str(link) for link in sorted(folder.iterdir())}
    except OSError:
        return {}

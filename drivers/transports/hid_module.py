"""The package ``hidapi``, if it is there, and what a user needs so that it may open a device."""

from __future__ import annotations

import contextlib
import importlib
import re
import sys
from dataclasses import dataclass
from typing import Any, Protocol

INSTALL_HINT = "Run: pip install 'evencup[hid]'."

_CANDIDATES = ("hidraw", "hid") if sys.platform == "linux" else ("hid",)


class HidHandle(Protocol):
    """A device as ``hidapi`` gives it, opened by :meth:`open_path`."""

    def open_path(self, path: bytes) -> None:
        """Open it; OSError says only that it failed."""

    def read(self, max_length: int, timeout_ms: int = 0) -> list[int]:
        """Give one report, or nothing when the time is over."""

    def write(self, buff: bytes) -> int:
        """Send one report; -1 when it failed."""

    def get_report_descriptor(self) -> list[int]:
        """Give the bytes of the report descriptor."""

    def close(self) -> None:
        """Close it."""


class HidModule(Protocol):
    """What is used of the package ``hidapi``."""

    def enumerate(self, vendor_id: int = 0, product_id: int = 0) -> list[dict[str, Any]]:
        """List what is connected."""

    def device(self) -> HidHandle:
        """Make a device, not opened yet."""


def load_hid() -> HidModule | None:
    """Import the package ``hidapi``; None where it is not installed.

    On Linux the variant over hidraw goes first: it leaves the kernel's driver in place and knows the usage
    page.
    """
    for name in _CANDIDATES:
        with contextlib.suppress(ImportError):
            module: HidModule = importlib.import_module(name)
            if hasattr(module, "device"):  # another package of the same name has none
                return module
    return None


@dataclass(frozen=True, slots=True)
class HidName:
    """Which device is meant.

    :param serial: empty where any will do
    """

    vendor: int
    product: int
    serial: str = ""

    def __str__(self) -> str:
        return f"{self.vendor:04x}:{self.product:04x}"


def parse_name(text: str, serial: str = "") -> HidName | None:
    """Read ``1234:5678``, vendor and product in hexadecimal; None where it is none."""
    match = re.fullmatch(r"([0-9A-Fa-f]{1,4}):([0-9A-Fa-f]{1,4})", text)
    return HidName(int(match[1], 16), int(match[2], 16), serial) if match else None


_RULES = "70-evencup-scale.rules"  # below 73, where systemd hands devices to who sits at the machine


def udev_rule(vendor: int, product: int) -> str:
    """Write the rule that lets the user at this machine open a device (Linux)."""
    return (
        f'KERNEL=="hidraw*", ATTRS{{idVendor}}=="{vendor:04x}", ATTRS{{idProduct}}=="{product:04x}", '
        'MODE="0660", TAG+="uaccess"'
    )


def permission_fix(vendor: int, product: int) -> str:
    """Say how a user gets permission to open a device: lines to paste."""
    if sys.platform != "linux":
        return "Close the program that uses it, or ask who looks after this computer."
    return (
        f"Run: echo '{udev_rule(vendor, product)}' | sudo tee /etc/udev/rules.d/{_RULES} "
        "&& sudo udevadm control --reload, then unplug it and plug it in again."
    )

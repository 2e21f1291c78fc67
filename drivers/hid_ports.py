"""The USB HID scales of this machine: what is connected, and why one cannot be opened."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from drivers.decoders.hid_weight import WEIGHING_PAGE
from drivers.transports.hid_module import HidModule, load_hid, permission_fix


@dataclass(frozen=True, slots=True)
class HidScaleFound:
    """A USB HID weighing device that is there.

    :param address: what to give evencup
    :param description: what the device says of itself
    :param usb_id: vendor and product, ``1234:5678``
    :param problem: why this user cannot open it; empty where nothing is known against it
    :param fix: what to do about that, one line
    """

    address: str
    description: str
    usb_id: str
    serial: str = ""
    problem: str = ""
    fix: str = ""


def hid_scales(load: Callable[[], HidModule | None] = load_hid) -> list[HidScaleFound]:
    """List the weighing devices that are connected now; none where ``hidapi`` is not installed.

    :param load: gives the module to use, or None where it is not installed
    """
    module = load()
    entries: list[dict[str, Any]] = []
    if module is not None:
        with contextlib.suppress(OSError):
            entries = module.enumerate()
    weighing = [entry for entry in entries if entry.get("usage_page") == WEIGHING_PAGE]
    found = {(scale.usb_id, scale.serial): scale for scale in map(_found, weighing)}
    return [found[key] for key in sorted(found)]


def _found(entry: dict[str, Any]) -> HidScaleFound:
    vendor, product = entry["vendor_id"], entry["product_id"]
    usb_id = f"{vendor:04x}:{product:04x}"
    serial = (entry.get("serial_number") or "").strip()
    words = (entry.get("manufacturer_string"), entry.get("product_string"))
    allowed = _may_open(os.fsdecode(entry["path"]))
    return HidScaleFound(
        f"hid:{usb_id}" + (f"?serial={quote(serial, safe='')}" if serial else ""),
        " ".join(word.strip() for word in words if word and word.strip()),
        usb_id,
        serial,
        "" if allowed else "this user may not open it",
        "" if allowed else permission_fix(vendor, product),
    )


def _may_open(path: str) -> bool:
    """Say whether a device node may be opened; what is no node is not known to be forbidden."""
    return os.access(path, os.R_OK | os.W_OK) if path.startswith("/dev/") else True

"""How reports arrive from a USB HID device, through the package ``hidapi``.

The package is imported in the thread that owns the device.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

from drivers.decoders.hid_weight import WEIGHING_PAGE
from drivers.errors import AddressError, DeviceDeniedError, DeviceError, DeviceLostError, DeviceNotFoundError
from drivers.transports.hid_module import (
    INSTALL_HINT,
    HidHandle,
    HidModule,
    HidName,
    load_hid,
    permission_fix,
)
from drivers.transports.threaded_port import POLL_S, ThreadedPort

_LONGEST_REPORT = 64  # bytes, of a full-speed interrupt transfer (USB 2.0, 5.7.3)
_WAITING_REPORTS = 10_000


class HidPort(ThreadedPort[HidHandle]):
    """A HID device in use.

    :param address: as the user wrote it, for messages
    :param load: gives the module to use, or None where it is not installed
    """

    write_timeout_s: ClassVar = 5.0
    failures: ClassVar = (OSError, ValueError)
    write_failure_ends: ClassVar = False  # one that refuses a report may go on weighing

    def __init__(self, address: str, name: HidName, load: Callable[[], HidModule | None] = load_hid) -> None:
        super().__init__(address, f"hid {name}", _WAITING_REPORTS)
        self._device, self._load = name, load
        self.descriptor = b""
        """The report descriptor, empty where the system does not give it."""
        self.product = ""
        """What the device calls itself."""
        self.dropped = 0
        """Reports that nobody took off in time."""

    def _lost(self) -> DeviceLostError:
        return DeviceLostError(
            self._address, "the link broke", "Check cable, plug and battery, then connect again."
        )

    def _not_taken(self) -> DeviceLostError:
        return DeviceLostError(self._address, "it takes no report", "Unplug it and plug it in again.")

    # Everything below runs in the thread.

    def _open_handle(self) -> HidHandle:
        module = self._load()
        if module is None:
            raise DeviceNotFoundError(
                self._address, "the package for USB HID devices is missing", INSTALL_HINT
            )
        found = self._choose(module.enumerate(self._device.vendor, self._device.product))
        handle = module.device()
        try:
            handle.open_path(found["path"])
        except OSError as error:
            raise self._refused(found["path"]) from error
        self.product = (found.get("product_string") or "").strip()
        with contextlib.suppress(OSError, ValueError, AttributeError):
            self.descriptor = bytes(handle.get_report_descriptor())
        return handle

    def _choose(self, entries: list[dict[str, Any]]) -> dict[str, Any]:
        """Pick the entry that is meant: one device may show several, one for each of its collections."""
        weighing = [entry for entry in entries if entry.get("usage_page") == WEIGHING_PAGE] or entries
        serials = sorted({entry.get("serial_number") or "" for entry in weighing})
        if self._device.serial:
            weighing = [entry for entry in weighing if entry.get("serial_number") == self._device.serial]
        elif len(serials) > 1:
            raise AddressError(
                self._address,
                f"{len(serials)} such devices are connected",
                f"Say which: {', '.join(f'?serial={serial}' for serial in serials if serial)}.",
            )
        if weighing:
            return weighing[0]
        named = f" with the serial number {self._device.serial}" if self._device.serial else ""
        raise DeviceNotFoundError(
            self._address,
            f"no USB device {self._device}{named} is connected",
            f"Connected are the serial numbers {', '.join(filter(None, serials))}."
            if any(serials)
            else "Plug it in and switch it on; evencup devices lists what is there.",
        )

    def _refused(self, path: bytes) -> DeviceError:
        name = os.fsdecode(path)
        if name.startswith("/dev/") and not Path(name).exists():
            return DeviceNotFoundError(self._address, "it was unplugged just now", "Plug it in again.")
        if name.startswith("/dev/") and os.access(name, os.R_OK | os.W_OK):
            return DeviceDeniedError(
                self._address, "it cannot be opened", "Close the program that uses it, then plug it in again."
            )
        return DeviceDeniedError(
            self._address,
            f"this user may not open it ({name})",
            permission_fix(self._device.vendor, self._device.product),
        )

    def _opening_error(self, error: Exception) -> DeviceError:
        return DeviceNotFoundError(
            self._address, f"it cannot be opened: {error}", "Unplug it and plug it in again."
        )

    def _receive(self, handle: HidHandle) -> bytes:
        return bytes(handle.read(_LONGEST_REPORT, round(POLL_S * 1000)))

    def _transmit(self, handle: HidHandle, data: bytes) -> None:
        if handle.write(data) < 0:
            raise OSError("the report was not sent")

    def _when_full(self) -> bool:
        # The system's own queue is short and drops without a word: here it is counted.
        self.dropped += 1
        return False

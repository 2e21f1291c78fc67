"""How reports arrive from a USB HID device, through the package ``hidapi``.

Its calls wait or even block, so one thread owns the device from opening to closing; it stamps each report and
hands it over. The package is imported in that thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

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

OPEN_TIMEOUT_S = 10.0
CLOSE_TIMEOUT_S = 2.0
WRITE_TIMEOUT_S = 5.0

_LONGEST_REPORT = 64  # bytes, of a full-speed interrupt transfer (USB 2.0, 5.7.3)
_POLL_MS = 100
_WAITING_REPORTS = 10_000


@dataclass(frozen=True, slots=True)
class Report:
    """One report as it arrived.

    :param time_s: on the host's monotonic clock
    """

    time_s: float
    data: bytes


class HidPort:
    """A HID device in use.

    :param address: as the user wrote it, for messages
    :param load: gives the module to use, or None where it is not installed
    """

    def __init__(self, address: str, name: HidName, load: Callable[[], HidModule | None] = load_hid) -> None:
        self._address, self._name, self._load = address, name, load
        self.descriptor = b""
        """The report descriptor, empty where the system does not give it."""
        self.product = ""
        """What the device calls itself."""
        self.dropped = 0
        """Reports that nobody took off in time."""

    async def open(self) -> None:
        """Open the device.

        :raises DeviceError: not installed, not found, denied
        """
        self._loop = asyncio.get_running_loop()
        self._arrived: asyncio.Queue[Report | DeviceError] = asyncio.Queue()
        self._opened: asyncio.Future[None] = self._loop.create_future()
        self._closed = asyncio.Event()
        self._stop = threading.Event()
        self._outbox: list[tuple[bytes, asyncio.Future[None]]] = []
        self._thread = threading.Thread(target=self._run, name=f"evencup hid {self._name}", daemon=True)
        self._thread.start()
        try:
            async with asyncio.timeout(OPEN_TIMEOUT_S):
                await self._opened
        except TimeoutError:
            self._stop.set()
            raise DeviceNotFoundError(
                self._address,
                f"it did not open within {OPEN_TIMEOUT_S:g} s",
                "Unplug it and plug it in again.",
            ) from None
        except BaseException:
            self._stop.set()
            raise

    async def read(self) -> Report:
        """Wait for a report.

        :raises DeviceLostError: when the device is gone, after everything that came before has been given
        """
        item = await self._arrived.get()
        if isinstance(item, Report):
            return item
        self._arrived.put_nowait(item)
        raise item

    async def write(self, report: bytes) -> None:
        """Send an output report, its id first.

        :raises DeviceLostError: when the device is gone or does not take it
        """
        sent: asyncio.Future[None] = self._loop.create_future()
        if self._closed.is_set():
            raise self._lost()
        self._outbox.append((report, sent))
        try:
            async with asyncio.timeout(WRITE_TIMEOUT_S):
                await sent
        except TimeoutError:
            raise DeviceLostError(
                self._address, "it takes no report", "Unplug it and plug it in again."
            ) from None

    async def close(self) -> None:
        """Close the device; bounded in time, and without effect when it is closed already."""
        if not hasattr(self, "_thread"):
            return
        self._stop.set()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(CLOSE_TIMEOUT_S):
                await self._closed.wait()
                self._thread.join(_POLL_MS / 1000)

    # Everything below runs in the thread.

    def _run(self) -> None:
        try:
            self._own_device()
        finally:
            self._post(self._finish)

    def _own_device(self) -> None:
        try:
            handle = self._open_handle()
        except Exception as error:  # whatever the package raises becomes one of our kinds
            failure = error if isinstance(error, DeviceError) else self._unexpected(error)
            self._post(lambda: _settle(self._opened, failure))
            return
        try:
            self._post(lambda: _settle(self._opened))
            self._pump(handle)
        except Exception as error:  # a reader that died in silence would leave the brewer waiting
            lost = self._lost()
            lost.__cause__ = error
            self._post(lambda: self._arrived.put_nowait(lost))
        finally:
            with contextlib.suppress(OSError, ValueError):
                handle.close()

    def _open_handle(self) -> HidHandle:
        module = self._load()
        if module is None:
            raise DeviceNotFoundError(
                self._address, "the package for USB HID devices is missing", INSTALL_HINT
            )
        found = self._choose(module.enumerate(self._name.vendor, self._name.product))
        handle = module.device()
        try:
            handle.open_path(found["path"])
        except OSError as error:
            raise self._refused(found["path"], handle) from error
        self.product = (found.get("product_string") or "").strip()
        with contextlib.suppress(OSError, ValueError, AttributeError):
            self.descriptor = bytes(handle.get_report_descriptor())
        return handle

    def _choose(self, entries: list[dict[str, Any]]) -> dict[str, Any]:
        """Pick the entry that is meant: one device may show several, one for each of its collections."""
        weighing = [entry for entry in entries if entry.get("usage_page") == WEIGHING_PAGE] or entries
        serials = sorted({entry.get("serial_number") or "" for entry in weighing})
        if self._name.serial:
            weighing = [entry for entry in weighing if entry.get("serial_number") == self._name.serial]
        elif len(serials) > 1:
            raise AddressError(
                self._address,
                f"{len(serials)} such devices are connected",
                f"Say which: {', '.join(f'?serial={serial}' for serial in serials if serial)}.",
            )
        if weighing:
            return weighing[0]
        named = f" with the serial number {self._name.serial}" if self._name.serial else ""
        raise DeviceNotFoundError(
            self._address,
            f"no USB device {self._name}{named} is connected",
            f"Connected are the serial numbers {', '.join(filter(None, serials))}."
            if any(serials)
            else "Plug it in and switch it on; evencup devices lists what is there.",
        )

    def _refused(self, path: bytes, handle: HidHandle) -> DeviceError:
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
            permission_fix(self._name.vendor, self._name.product),
        )

    def _pump(self, handle: HidHandle) -> None:
        while not self._stop.is_set():
            while self._outbox:
                self._send(handle, *self._outbox.pop(0))
            data = handle.read(_LONGEST_REPORT, _POLL_MS)
            if data:
                self._hand_over(Report(time.monotonic(), bytes(data)))

    def _send(self, handle: HidHandle, report: bytes, sent: asyncio.Future[None]) -> None:
        failure = None
        try:
            if handle.write(report) < 0:
                failure = self._lost()
        except (OSError, ValueError):
            failure = self._lost()
        self._post(lambda: _settle(sent, failure))

    def _hand_over(self, report: Report) -> None:
        if self._arrived.qsize() >= _WAITING_REPORTS:
            self.dropped += 1
            return
        self._post(lambda: self._arrived.put_nowait(report))

    def _finish(self) -> None:
        for _, sent in self._outbox:
            _settle(sent, self._lost())
        self._outbox.clear()
        self._closed.set()

    def _lost(self) -> DeviceLostError:
        return DeviceLostError(
            self._address, "the link broke", "Check cable, plug and battery, then connect again."
        )

    def _unexpected(self, error: Exception) -> DeviceError:
        return DeviceNotFoundError(
            self._address, f"it cannot be opened: {error}", "Unplug it and plug it in again."
        )

    def _post(self, call: Callable[[], None]) -> None:
        with contextlib.suppress(RuntimeError):  # the event loop is closed: nobody waits any more
            self._loop.call_soon_threadsafe(call)


def _settle(future: asyncio.Future[None], error: DeviceError | None = None) -> None:
    if future.done():
        return
    if error is None:
        future.set_result(None)
    else:
        future.set_exception(error)

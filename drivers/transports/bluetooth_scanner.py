"""What is advertised nearby: one scan of the whole process, however many devices listen to it.

A system's Bluetooth takes one scan of one program at a time, so all listeners share one. It begins with the
first and ends with the last, and reports every advertisement, also those that repeat: a broadcasting
thermometer says the same again as long as nothing changes.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass
from typing import Literal
from weakref import WeakKeyDictionary

from bleak import BleakScanner
from bleak.args.bluez import BlueZScannerArgs, OrPattern
from bleak.assigned_numbers import AdvertisementDataType
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.exc import BleakDBusError

from drivers.errors import DeviceError
from drivers.transports.bluetooth_failures import (
    BluetoothDeniedError,
    BluetoothUnavailableError,
    bluetooth_error,
    unanswered_error,
)
from drivers.transports.uncancelled import to_the_end

Mode = Literal["active", "passive"]

START_S = 10.0
STOP_S = 5.0

_STARTS = 3
_BETWEEN_STARTS_S = 0.7
_UNHEARD_S = 5.0  # a scan that has told nothing for so long may have ended with the system's service
_BTHOME = OrPattern(0, AdvertisementDataType.SERVICE_DATA_UUID16, b"\xd2\xfc")


@dataclass(frozen=True, slots=True)
class Heard:
    """One advertisement.

    :param time_s: on the host's monotonic clock
    :param address: the device's address; on macOS a UUID that this computer has given it
    :param name: empty where it tells none
    :param service_data: by full UUID
    :param device: the library's handle, to connect with
    """

    time_s: float
    address: str
    name: str
    rssi_dbm: int
    service_uuids: tuple[str, ...]
    service_data: Mapping[str, bytes]
    device: BLEDevice


Listener = Callable[[Heard], None]


@contextlib.asynccontextmanager
async def listening(address: str, listener: Listener, mode: Mode = "active") -> AsyncIterator[None]:
    """Hear what is advertised while in the block.

    :param address: as the user wrote it, for messages
    :param listener: called for each advertisement in the event loop; must not wait and must not raise
    :param mode: ``passive`` asks nothing of the devices and hears BTHome broadcasts only
    :raises DeviceError: when Bluetooth cannot be used
    """
    scan = _shared(mode)
    await scan.join(address, listener)
    try:
        yield
    finally:
        await scan.leave(listener)


class _SharedScan:
    """The scan of one event loop in one mode."""

    def __init__(self, mode: Mode) -> None:
        self._mode = mode
        self._listeners: list[Listener] = []
        self._lock = asyncio.Lock()
        self._scanner: BleakScanner | None = None
        self._heard_s = 0.0

    async def join(self, address: str, listener: Listener) -> None:
        self._listeners.append(listener)
        try:
            await to_the_end(self._begin(address), "evencup bluetooth scan")
        except BaseException:
            await self.leave(listener)
            raise

    async def leave(self, listener: Listener) -> None:
        if listener in self._listeners:
            self._listeners.remove(listener)
        await to_the_end(self._end_if_unused(), "evencup bluetooth scan")

    async def _begin(self, address: str) -> None:
        async with self._lock:
            if self._scanner is not None and time.monotonic() - self._heard_s > _UNHEARD_S:
                await self._stop()
            if self._scanner is None:
                await self._start(address)

    async def _end_if_unused(self) -> None:
        async with self._lock:
            if not self._listeners:
                await self._stop()

    async def _start(self, address: str) -> None:
        for attempt in range(1, _STARTS + 1):
            try:
                scanner = self._made()
                async with asyncio.timeout(START_S):
                    await scanner.start()
            except TimeoutError as error:
                raise unanswered_error(address) from error
            except Exception as error:
                if attempt == _STARTS or not _is_busy(error):
                    raise _scan_error(address, self._mode, error) from error
                await asyncio.sleep(_BETWEEN_STARTS_S)
            else:
                self._scanner, self._heard_s = scanner, time.monotonic()
                return

    async def _stop(self) -> None:
        scanner, self._scanner = self._scanner, None
        if scanner is not None:
            # What cannot be stopped has ended by itself: the adapter is off, the service gone.
            with contextlib.suppress(Exception):
                async with asyncio.timeout(STOP_S):
                    await scanner.stop()

    def _made(self) -> BleakScanner:
        bluez: BlueZScannerArgs = {"filters": {"DuplicateData": True}}
        if self._mode == "passive":
            bluez = {"or_patterns": [_BTHOME]}
        return BleakScanner(self._hear, scanning_mode=self._mode, bluez=bluez)

    def _hear(self, device: BLEDevice, data: AdvertisementData) -> None:
        self._heard_s = time.monotonic()
        heard = Heard(
            self._heard_s,
            device.address,
            data.local_name or device.name or "",
            data.rssi,
            tuple(data.service_uuids),
            data.service_data,
            device,
        )
        for listener in tuple(self._listeners):
            listener(heard)


def _shared(mode: Mode) -> _SharedScan:
    scans = _scans.setdefault(asyncio.get_running_loop(), {})
    return scans.setdefault(mode, _SharedScan(mode))


def _is_busy(error: Exception) -> bool:
    return isinstance(error, BleakDBusError) and error.dbus_error == "org.bluez.Error.InProgress"


def _scan_error(address: str, mode: Mode, error: Exception) -> DeviceError:
    if failure := bluetooth_error(address, error):
        return failure
    if mode == "passive":
        return BluetoothDeniedError(
            address, f"this computer cannot listen passively ({error})", "Leave out scan=passive."
        )
    return BluetoothUnavailableError(
        address, f"no scan can be started ({error})", "Switch Bluetooth off and on again."
    )


_scans: WeakKeyDictionary[asyncio.AbstractEventLoop, dict[Mode, _SharedScan]] = WeakKeyDictionary()

"""Finding one Bluetooth device by its address, its name, or the UUID that macOS has given it."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterable

from bleak import BleakAdapter
from bleak.backends.device import BLEDevice

from drivers.errors import AddressError, DeviceNotFoundError
from drivers.transports.bluetooth_failures import bluetooth_error, unanswered_error
from drivers.transports.bluetooth_scanner import Heard, listening

_ADDRESS = re.compile(r"[0-9A-F]{2}([:_-][0-9A-F]{2}){5}", re.IGNORECASE)
_MACOS_UUID = re.compile(r"[0-9A-F]{8}(-[0-9A-F]{4}){3}-[0-9A-F]{12}", re.IGNORECASE)

# Generic access and attributes, which nearly every device has, and what evencup reads.
_USUAL_SERVICES = ("1800", "1801", "180a", "180f", "1809", "181a", "181d")

_NAMESAKE_S = 1.0
_ANSWER_S = 10.0
_SHOWN = 6


def is_bluetooth_address(target: str) -> bool:
    """Say whether a target is an address, or macOS' stand-in for one, and not a name."""
    return _ADDRESS.fullmatch(target) is not None or _MACOS_UUID.fullmatch(target) is not None


def same_device(target: str, address: str, name: str) -> bool:
    """Say whether an address or a name is what the user wrote."""
    if is_bluetooth_address(target):
        return re.sub("[_-]", ":", target).lower() == re.sub("[_-]", ":", address).lower()
    return bool(name) and target.casefold() == name.casefold()


async def held_by_system(address: str, target: str, services: Iterable[str] = ()) -> BLEDevice | None:
    """Find the device among those that this computer is connected to already: no scan shows these.

    :param address: as the user wrote it
    :raises DeviceError: when Bluetooth cannot be used
    """
    for device in await connected_to_system(address, services):
        if same_device(target, device.address, device.name or ""):
            return device
    return None


async def connected_to_system(address: str, services: Iterable[str] = ()) -> list[BLEDevice]:
    """List the devices that this computer is connected to.

    :raises DeviceError: when Bluetooth cannot be used
    """
    try:
        async with asyncio.timeout(_ANSWER_S):
            adapter = await BleakAdapter.get()
            return await adapter.get_connected_devices([*_USUAL_SERVICES, *services])
    except TimeoutError as error:
        raise unanswered_error(address) from error
    except Exception as error:
        if failure := bluetooth_error(address, error):
            raise failure from error
        return []  # this system does not tell, or tells nonsense; the scan will


async def nearby(address: str, seconds: float) -> tuple[list[BLEDevice], list[Heard]]:
    """Give the devices that this computer is connected to, and those it hears.

    :param address: for messages
    :param seconds: how long to listen
    :raises DeviceError: when Bluetooth cannot be used
    """
    connected = await connected_to_system(address)
    heard: dict[str, Heard] = {}

    def take(one: Heard) -> None:
        heard[one.address] = one

    async with listening(address, take):
        await asyncio.sleep(seconds)
    return connected, list(heard.values())


class _Search:
    """Advertisements on one side, the wanted device on the other."""

    def __init__(self, target: str) -> None:
        self._target = target
        self.matching: dict[str, Heard] = {}
        self.others: dict[str, Heard] = {}
        self.found = asyncio.Event()

    def take(self, heard: Heard) -> None:
        if same_device(self._target, heard.address, heard.name):
            self.matching[heard.address] = heard
            self.found.set()
        else:
            self.others[heard.address] = heard


async def find(address: str, target: str, limit_s: float) -> BLEDevice:
    """Scan until the device is heard.

    :param address: as the user wrote it
    :raises DeviceNotFoundError: when it is not, with those that are
    :raises AddressError: when two devices have the name
    :raises DeviceError: when Bluetooth cannot be used
    """
    search = _Search(target)
    async with listening(address, search.take):
        try:
            async with asyncio.timeout(limit_s):
                await search.found.wait()
        except TimeoutError:
            raise not_heard(address, limit_s, list(search.others.values())) from None
        if not is_bluetooth_address(target):
            await asyncio.sleep(_NAMESAKE_S)
    if len(search.matching) > 1:
        addresses = ", ".join(f"ble:{one}" for one in sorted(search.matching))
        raise AddressError(
            address, f"{len(search.matching)} devices are called {target!r}", f"Use one of: {addresses}."
        )
    return next(iter(search.matching.values())).device


def not_heard(address: str, limit_s: float, others: list[Heard]) -> DeviceNotFoundError:
    """Say that a device was not heard, and which ones were."""
    return DeviceNotFoundError(
        address,
        f"it was not heard within {limit_s:g} s",
        "Wake it (press its key), bring it closer, and disconnect it from any phone: a device that is "
        f"connected elsewhere cannot be heard. {seen_text(others)}",
    )


def seen_text(others: list[Heard]) -> str:
    """Say which devices are heard, the nearest first."""
    if not others:
        return "Nothing else is heard either."
    nearest = sorted(others, key=lambda heard: -heard.rssi_dbm)
    texts = [f"{one.name or 'no name'} ({one.address}, {one.rssi_dbm} dBm)" for one in nearest[:_SHOWN]]
    more = f" and {len(others) - _SHOWN} more" if len(others) > _SHOWN else ""
    return f"Heard are: {', '.join(texts)}{more}."

"""How packets arrive over Bluetooth LE: find a device once, connect, subscribe, notice the end.

A link is used once: after a loss it is closed and a new one made, because a client of the library that is
connected a second time delivers everything twice. Packets are stamped and queued where they arrive, in a
plain callback, and nothing that could fail or wait runs there. That a link is up says nothing about data:
whoever reads keeps a deadline of his own.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Awaitable, Callable, Iterable, Mapping
from contextlib import AsyncExitStack
from dataclasses import dataclass
from typing import TypeVar

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice

from drivers.errors import DeviceLostError, DeviceNotFoundError
from drivers.transports.bluetooth_failures import (
    BluetoothUnavailableError,
    connecting_error,
    lost_error,
    using_error,
)
from drivers.transports.bluetooth_search import find, held_by_system
from drivers.transports.uncancelled import to_the_end, within

ANSWER_S = 5.0
"""How long a read, a write or a subscription may take."""

DISCONNECT_S = 5.0

_ATTEMPTS = 4
_AFTER_DROP_S = 0.3
_AFTER_TIMEOUT_S = 1.5  # the system's Bluetooth needs longer to get over a call that it had to cancel
_WAITING_PACKETS = 65_536

T = TypeVar("T")

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Packet:
    """Bytes that arrived together.

    :param time_s: on the host's monotonic clock
    :param handle: of the characteristic; its UUID may not be the only one of its kind
    """

    time_s: float
    handle: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Offered:
    """A characteristic that a connected device has.

    :param service: full UUID of the service it belongs to
    :param notifies: whether it sends by itself, by notification or indication
    """

    service: str
    uuid: str
    handle: int
    notifies: bool
    readable: bool
    properties: tuple[str, ...]


class BluetoothLink:
    """One connection to one device.

    :param address: as the user wrote it, for messages
    :param target: Bluetooth address, name, or macOS UUID
    :param timeout_s: for finding and connecting together
    :param services: UUIDs by which the device may be known to the system as connected already
    """

    def __init__(self, address: str, target: str, timeout_s: float, services: Iterable[str] = ()) -> None:
        self._address, self._target, self._timeout_s = address, target, timeout_s
        self._services = tuple(services)
        self._stack = AsyncExitStack()
        self._client: BleakClient | None = None
        self._characteristics: Mapping[int, BleakGATTCharacteristic] = {}
        self._arrivals = _Arrivals()
        self.name = ""
        self.bluetooth_address = ""

    @property
    def offered(self) -> tuple[Offered, ...]:
        """What the connected device has, in the order of its handles."""
        return tuple(
            Offered(
                one.service_uuid,
                one.uuid,
                handle,
                bool({"notify", "indicate"} & set(one.properties)),
                "read" in one.properties,
                tuple(one.properties),
            )
            for handle, one in sorted(self._characteristics.items())
        )

    @property
    def overruns(self) -> int:
        """How many packets were thrown away because nobody took them off."""
        return self._arrivals.overruns

    async def open(self, prepare: Callable[[BluetoothLink], Awaitable[None]]) -> None:
        """Find the device, connect, and subscribe.

        A device that the system still holds connected, because the program that used it was killed, is taken
        over; where that does not work it is let go and searched for like any other.

        :param prepare: subscribes to what is wanted; run again where the link broke in the middle of it
        :raises DeviceError: not found, refused, or Bluetooth cannot be used
        """
        until_s = time.monotonic() + self._timeout_s
        held = await held_by_system(self._address, self._target, self._services)
        if held is not None:
            try:
                return await self._connect(held, prepare, self._timeout_s / 2)
            except (DeviceLostError, DeviceNotFoundError) as error:
                _log.debug("%s: held by the system, not usable: %s", self._address, error.what)
        return await self._search_and_connect(prepare, max(until_s, time.monotonic() + self._timeout_s / 2))

    async def _search_and_connect(
        self, prepare: Callable[[BluetoothLink], Awaitable[None]], until_s: float
    ) -> None:
        device: BLEDevice | None = None
        for attempt in range(1, _ATTEMPTS + 1):
            if device is None:
                device = await find(self._address, self._target, self._timeout_s / 2)
            limit_s = max(0.5, min(self._timeout_s / 2, until_s - time.monotonic()))
            try:
                return await self._connect(device, prepare, limit_s)
            except BluetoothUnavailableError:
                raise
            except (DeviceLostError, DeviceNotFoundError) as error:
                timed_out = isinstance(error.__cause__, TimeoutError)
                pause_s = _AFTER_TIMEOUT_S if timed_out else _AFTER_DROP_S
                if attempt == _ATTEMPTS or time.monotonic() + pause_s >= until_s:
                    raise
                _log.debug("%s: attempt %d: %s", self._address, attempt, error.what)
                if not timed_out:
                    device = None  # the system may have forgotten what the handle stood for
                await asyncio.sleep(pause_s)
        raise AssertionError("unreachable")

    async def _connect(
        self, device: BLEDevice, prepare: Callable[[BluetoothLink], Awaitable[None]], limit_s: float
    ) -> None:
        arrivals = _Arrivals()
        client = BleakClient(device, arrivals.end, timeout=limit_s)
        async with AsyncExitStack() as stack:
            stack.push_async_callback(_let_go, client)
            try:
                await within(limit_s, client.connect(), f"evencup {self._address}")
                characteristics = dict(client.services.characteristics)
            except Exception as error:
                raise connecting_error(self._address, error, limit_s) from error
            self._client, self._characteristics, self._arrivals = client, characteristics, arrivals
            self.name, self.bluetooth_address = device.name or "", device.address
            await prepare(self)
            self._stack = stack.pop_all()

    async def subscribe(self, handle: int) -> None:
        """Have a characteristic's notifications or indications arrive.

        :raises DeviceError: refused, or the link broke
        """
        client, arrivals = self._in_use(), self._arrivals
        work = client.start_notify(
            self._characteristics[handle], lambda _, data: arrivals.add(handle, bytes(data))
        )
        await self._do(work, f"subscribing to {self._name_of(handle)}")

    async def read(self, handle: int) -> bytes:
        """Read a characteristic.

        :raises DeviceError: refused, or the link broke
        """
        work = self._in_use().read_gatt_char(self._characteristics[handle])
        return bytes(await self._do(work, f"reading {self._name_of(handle)}"))

    async def poll(self, handle: int) -> None:
        """Read a characteristic that does not notify, and queue what it says as a packet.

        :raises DeviceError: refused, or the link broke
        """
        self._arrivals.add(handle, await self.read(handle))

    async def write(self, handle: int, data: bytes, what: str, *, response: bool | None = None) -> None:
        """Write to a characteristic.

        :param what: the command in the user's words, for messages
        :param response: whether the device confirms; None for what the characteristic offers
        :raises DeviceError: refused, naming the command; or the link broke
        """
        characteristic = self._characteristics[handle]
        if response is None:
            response = "write" in characteristic.properties
        work = self._in_use().write_gatt_char(characteristic, data, response)
        await self._do(work, f"sending {what} ({data.hex(' ')}) to {self._name_of(handle)}")

    async def next(self) -> Packet:
        """Wait for a packet.

        :raises DeviceLostError: when the link broke, after everything that came before has been given
        """
        packet = await self._arrivals.next()
        if packet is None:
            raise lost_error(self._address)
        return packet

    def rest(self) -> list[Packet]:
        """Take off what has arrived and has not been taken; after closing, all there will ever be."""
        return self._arrivals.rest()

    async def close(self) -> None:
        """Disconnect; bounded in time, never raises for a link that is gone, goes on when cancelled."""
        self._client = None
        await self._stack.aclose()

    def _in_use(self) -> BleakClient:
        if self._client is None:
            raise lost_error(self._address)
        return self._client

    async def _do(self, work: Awaitable[T], doing: str) -> T:
        try:
            async with asyncio.timeout(ANSWER_S):
                return await work
        except Exception as error:
            raise using_error(self._address, doing, error) from error

    def _name_of(self, handle: int) -> str:
        return self._characteristics[handle].uuid


class _Arrivals:
    """What has come over one connection and has not been taken off."""

    def __init__(self) -> None:
        self._queue: asyncio.Queue[Packet | None] = asyncio.Queue()
        self.overruns = 0

    def add(self, handle: int, data: bytes) -> None:
        """Stamp and keep a packet; called where it arrives."""
        if self._queue.qsize() >= _WAITING_PACKETS:
            self.overruns += 1
        else:
            self._queue.put_nowait(Packet(time.monotonic(), handle, data))

    def end(self, _: BleakClient) -> None:
        """Note that nothing more will come."""
        self._queue.put_nowait(None)

    def rest(self) -> list[Packet]:
        """Take off all that is there; the end stays."""
        items = [self._queue.get_nowait() for _ in range(self._queue.qsize())]
        if None in items:
            self._queue.put_nowait(None)
        return [item for item in items if item is not None]

    async def next(self) -> Packet | None:
        packet = await self._queue.get()
        if packet is None:
            self._queue.put_nowait(None)
        return packet


async def _let_go(client: BleakClient) -> None:
    """Disconnect, also where nothing is connected any more: else the library keeps its callbacks."""
    await to_the_end(_disconnect(client), "evencup bluetooth disconnect")


async def _disconnect(client: BleakClient) -> None:
    # A link that is gone, or whose service is, cannot be ended any further.
    with contextlib.suppress(Exception):
        await within(DISCONNECT_S, client.disconnect(), "evencup bluetooth disconnect")

"""A peripheral in the air around the stand-in Bluetooth service: what it offers, sends and does wrong."""

from __future__ import annotations

import asyncio
import itertools
import time
from dataclasses import dataclass, field
from typing import Any

from dbus_fast import Message, Variant

from tests.peers.bluez_objects import NOTHING, ObjectTree, RefusedError

ADAPTER = "/org/bluez/hci0"
DEVICE = "org.bluez.Device1"
SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
FAILED = "org.bluez.Error.Failed"


@dataclass
class Characteristic:
    """One characteristic, its script and what has gone over it.

    :param sessions: the bus names that have asked for notifications and have not left the bus since
    :param sent: payloads that were notified while somebody had asked for them, as hex
    """

    uuid: str
    flags: list[str]
    path: str
    service_path: str
    values: list[bytes] = field(default_factory=lambda: [b""])
    sessions: list[str] = field(default_factory=list)
    sent: list[str] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    queue: list[bytes] = field(default_factory=list)


class Peripheral:
    """One device.

    :param services: service UUID -> characteristic UUID -> ``{"flags": [...], "value": hex}``
    :param uuids: what it advertises; its services where nothing is given
    """

    def __init__(
        self,
        tree: ObjectTree,
        address: str,
        name: str = "",
        services: dict[str, Any] | None = None,
        uuids: list[str] | None = None,
        advert_interval_s: float = 0.05,
        rssi: int = -60,
    ) -> None:
        self._tree = tree
        self.address, self.name = address, name
        self.path = f"{ADAPTER}/dev_{address.replace(':', '_')}"
        self._services = services or {}
        self._uuids = [*self._services] if uuids is None else uuids
        self.interval_s, self._rssi = advert_interval_s, rssi
        self.in_range, self.connected, self.stalled = True, False, False
        self.connect_s, self.resolve_s = 0.02, 0.02
        self.connects = self.disconnects = 0
        self._faults: dict[str, list[Any]] = {}
        self._connecting: asyncio.Future[None] | None = None
        self._service_data: dict[str, bytes] = {}
        self._broadcasts: list[tuple[str, bytes]] = []
        self._heard_payload: object = None
        self._rssi_step = itertools.cycle((0, 1))
        self._handle = itertools.count(0x40)
        self._service_uuids: dict[str, str] = {}
        self.characteristics = [c for uuid, those in self._services.items() for c in self._made(uuid, those)]

    def _made(self, service_uuid: str, characteristics: dict[str, Any]) -> list[Characteristic]:
        service_path = f"{self.path}/service{next(self._handle):04x}"
        made = []
        for uuid, what in characteristics.items():
            # A service may have the same characteristic several times: "uuid#2".
            path = f"{service_path}/char{next(self._handle):04x}"
            one = Characteristic(uuid.partition("#")[0], what["flags"], path, service_path)
            one.values = [bytes.fromhex(what.get("value", ""))]
            made.append(one)
        self._service_uuids[service_path] = service_uuid
        return made

    # In the air

    def advertise(self, duplicates: bool) -> None:
        """Send one advertisement to a service that is discovering."""
        if not self.in_range or self.connected:
            return
        if self._broadcasts:
            uuid, payload = self._broadcasts.pop(0)
            self._service_data = {uuid: payload}
        rssi = Variant("n", self._rssi + next(self._rssi_step))
        data = Variant("a{sv}", {uuid: Variant("ay", data) for uuid, data in self._service_data.items()})
        if self.path not in self._tree.objects:
            self._tree.add(self.path, DEVICE, {**self._properties(), "RSSI": rssi, "ServiceData": data})
        elif duplicates or self._heard_payload != self._service_data:
            self._tree.change(self.path, DEVICE, {"RSSI": rssi, "ServiceData": data})
        self._heard_payload = dict(self._service_data)

    def forget_heard(self) -> None:
        """Begin a new discovery: the first advertisement is told again; the strength is not kept."""
        self._heard_payload = None
        if "RSSI" in self._tree.objects.get(self.path, {}).get(DEVICE, {}):
            self._tree.change(self.path, DEVICE, {}, ("RSSI",))

    def broadcast(self, uuid: str, payloads: list[bytes], times: int) -> None:
        """Advertise service data, each payload so many times; the last one stays."""
        self._broadcasts += [(uuid, payload) for payload in payloads for _ in range(times)]

    def _properties(self) -> dict[str, Variant]:
        properties = {
            "Address": Variant("s", self.address),
            "AddressType": Variant("s", "random"),
            "Alias": Variant("s", self.name or self.address.replace(":", "-")),
            "Adapter": Variant("o", ADAPTER),
            "Connected": Variant("b", self.connected),
            "ServicesResolved": Variant("b", False),
            "Paired": Variant("b", False),
            "Trusted": Variant("b", False),
            "Blocked": Variant("b", False),
            "LegacyPairing": Variant("b", False),
            "UUIDs": Variant("as", self._uuids),
            "ManufacturerData": Variant("a{qv}", {}),
        }
        return {**properties, "Name": Variant("s", self.name)} if self.name else properties

    # Faults

    def fault(self, kind: str, detail: Any = True, times: int = 1_000_000) -> None:
        """Do something wrong the next so many times."""
        self._faults[kind] = [detail, times]

    def _faulty(self, kind: str) -> Any:
        fault = self._faults.get(kind)
        if fault is None or fault[1] == 0:
            return None
        fault[1] -= 1
        return fault[0]

    # The link

    async def connect(self, _: Message) -> tuple[str, list[Any]]:
        """Answer ``Device1.Connect``."""
        if refusal := self._faulty("refuse connect"):
            raise RefusedError(*refusal)
        if not self.in_range or self._faulty("no answer"):
            self._connecting = asyncio.get_running_loop().create_future()
            await self._connecting
        await asyncio.sleep(self.connect_s)
        if not self.connected:
            self._link_up()
        return NOTHING

    async def disconnect(self, _: Message) -> tuple[str, list[Any]]:
        """Answer ``Device1.Disconnect``."""
        if self._connecting is not None and not self._connecting.done():
            self._connecting.set_exception(RefusedError(FAILED, "le-connection-canceled"))
        if self._faulty("no disconnect"):
            await asyncio.get_running_loop().create_future()
        self.link_down()
        return NOTHING

    def _link_up(self) -> None:
        self.connected, self.connects = True, self.connects + 1
        self._tree.change(self.path, DEVICE, {"Connected": Variant("b", True)})
        if self._faulty("drop in discovery"):
            asyncio.get_running_loop().call_later(self.resolve_s, self.link_down)
        elif not self._faulty("discovery hangs"):
            asyncio.get_running_loop().call_later(self.resolve_s, self._resolve)

    def _resolve(self) -> None:
        if not self.connected or self.path not in self._tree.objects:
            return
        for path, uuid in self._service_uuids.items():
            self._tree.add(
                path,
                SERVICE,
                {
                    "UUID": Variant("s", uuid),
                    "Device": Variant("o", self.path),
                    "Primary": Variant("b", True),
                    "Includes": Variant("ao", []),
                },
            )
        for one in self.characteristics:
            self._tree.add(
                one.path,
                CHARACTERISTIC,
                {
                    "UUID": Variant("s", one.uuid),
                    "Service": Variant("o", one.service_path),
                    "Value": Variant("ay", b""),
                    "Notifying": Variant("b", False),
                    "Flags": Variant("as", one.flags),
                    "MTU": Variant("q", 185),
                },
            )
        uuids = Variant("as", sorted({*self._uuids, *self._services}))
        self._tree.change(self.path, DEVICE, {"ServicesResolved": Variant("b", True), "UUIDs": uuids})

    def link_down(self) -> None:
        """End the link; who had asked for notifications is remembered until he leaves the bus."""
        if not self.connected:
            return
        self.connected, self.disconnects = False, self.disconnects + 1
        off = Variant("b", False)
        self._tree.change(self.path, DEVICE, {"ServicesResolved": off})
        self._tree.change(self.path, DEVICE, {"Connected": off})
        for path in self._service_uuids:
            self._tree.remove(path)

    def drop(self, away_s: float | None) -> None:
        """Go out of range; come back after a while, or never."""
        self.in_range = False
        self.link_down()
        if away_s is not None:
            asyncio.get_running_loop().call_later(away_s, self._return)

    def _return(self) -> None:
        self.in_range = True

    # Values

    def find(self, uuid: str) -> Characteristic:
        """Find a characteristic; ``uuid#2`` is the second with that UUID."""
        plain, _, number = uuid.partition("#")
        return [one for one in self.characteristics if one.uuid == plain][int(number or 1) - 1]

    def notify(self, one: Characteristic, payload: bytes) -> bool:
        """Send one notification or indication; False where nobody would get it.

        Each session gets a signal of its own: a host that leaves old sessions open sees everything twice.
        """
        if not self.connected or self.stalled or not one.sessions or one.path not in self._tree.objects:
            return False
        one.sent.append(payload.hex())
        for _ in one.sessions:
            self._tree.change(one.path, CHARACTERISTIC, {"Value": Variant("ay", payload)})
        return True

    async def stream(self, one: Characteristic, rate_hz: float, interval_s: float) -> None:
        """Send the queue at a rate, in bursts at each connection interval."""
        step_s = max(interval_s, 1 / rate_hz)
        next_s, owed = time.monotonic(), 0.0
        while True:
            next_s = max(next_s + step_s, time.monotonic())
            await asyncio.sleep(next_s - time.monotonic())
            owed += step_s * rate_hz
            while owed >= 1 and one.queue and self.notify(one, one.queue[0]):
                owed -= 1
                del one.queue[0]
            owed = min(owed, 1.0)

    async def read(self, message: Message) -> tuple[str, list[Any]]:
        """Answer ``ReadValue``; what is read is also told as a change of the value."""
        one = self._at(message.path)
        if refusal := self._faulty(f"refuse read {one.uuid}"):
            raise RefusedError(*refusal)
        if self.stalled:
            await asyncio.get_running_loop().create_future()
        value = one.values.pop(0) if len(one.values) > 1 else one.values[0]
        self._tree.change(one.path, CHARACTERISTIC, {"Value": Variant("ay", value)})
        return "ay", [value]

    async def write(self, message: Message) -> tuple[str, list[Any]]:
        """Answer ``WriteValue``."""
        one = self._at(message.path)
        if refusal := self._faulty(f"refuse write {one.uuid}"):
            raise RefusedError(*refusal)
        one.written.append(bytes(message.body[0]).hex())
        return NOTHING

    async def start_notify(self, message: Message) -> tuple[str, list[Any]]:
        """Answer ``StartNotify``."""
        one = self._at(message.path)
        if refusal := self._faulty(f"refuse notify {one.uuid}"):
            raise RefusedError(*refusal)
        if message.sender in one.sessions:
            raise RefusedError("org.bluez.Error.InProgress", "In Progress")
        if not {"notify", "indicate"} & set(one.flags):
            raise RefusedError("org.bluez.Error.NotSupported", "Operation is not supported")
        one.sessions.append(message.sender or "")
        return NOTHING

    async def stop_notify(self, message: Message) -> tuple[str, list[Any]]:
        """Answer ``StopNotify``."""
        self.gone_from_bus(message.sender or "")
        return NOTHING

    def gone_from_bus(self, sender: str) -> None:
        """End the notifications of a program that has left; the link stays, as with the real service."""
        for one in self.characteristics:
            one.sessions = [name for name in one.sessions if name != sender]

    def _at(self, path: str | None) -> Characteristic:
        if not self.connected:
            raise RefusedError("org.bluez.Error.Failed", "Not connected")
        return next(one for one in self.characteristics if one.path == path)

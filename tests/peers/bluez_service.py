"""A program: a Bluetooth service without a radio, in the shape of BlueZ's D-Bus interface.

It owns ``org.bluez`` on the bus of ``DBUS_SYSTEM_BUS_ADDRESS``, obeys one JSON command a line on its standard
input, answers each with one line, and ends with its input. ``tests/peers/bluez.py`` starts it.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
from pathlib import Path
from typing import Any

from dbus_fast import BusType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.peers.bluez_objects import NOTHING, PROPERTIES, ObjectTree, RefusedError
from tests.peers.bluez_peripheral import ADAPTER, CHARACTERISTIC, DEVICE, Peripheral

ADAPTER_INTERFACE = "org.bluez.Adapter1"
MONITORS = "org.bluez.AdvertisementMonitorManager1"
NOT_READY = RefusedError("org.bluez.Error.NotReady", "Resource Not Ready")
AT_ONCE = 25
IN_PROGRESS = RefusedError("org.bluez.Error.InProgress", "Operation already in progress")
_BUS = ("org.freedesktop.DBus", "/org/freedesktop/DBus")


class Service:
    """The adapter and everything around it; public methods are the commands."""

    def __init__(self, bus: MessageBus) -> None:
        self._bus, self._tree = bus, ObjectTree(bus)
        self._devices: dict[str, Peripheral] = {}
        self._discovering: dict[str, bool] = {}
        self._filters: dict[str, bool] = {}
        self._monitors: dict[str, str] = {}
        self._tasks: list[asyncio.Task[None]] = []
        self._start_refusals: list[RefusedError] = []
        self._offer_methods()
        bus.add_message_handler(self._watch_names)

    def _offer_methods(self) -> None:
        methods = self._tree.methods
        methods[ADAPTER_INTERFACE, "SetDiscoveryFilter"] = self._set_filter
        methods[ADAPTER_INTERFACE, "StartDiscovery"] = self._start_discovery
        methods[ADAPTER_INTERFACE, "StopDiscovery"] = self._stop_discovery
        methods[ADAPTER_INTERFACE, "RemoveDevice"] = self._remove_device
        methods[MONITORS, "RegisterMonitor"] = self._register_monitor
        methods[MONITORS, "UnregisterMonitor"] = self._unregister_monitor
        methods[PROPERTIES, "Set"] = self._set_property
        for interface, member, name in (
            (DEVICE, "Connect", "connect"),
            (DEVICE, "Disconnect", "disconnect"),
            (CHARACTERISTIC, "ReadValue", "read"),
            (CHARACTERISTIC, "WriteValue", "write"),
            (CHARACTERISTIC, "StartNotify", "start_notify"),
            (CHARACTERISTIC, "StopNotify", "stop_notify"),
        ):
            methods[interface, member] = self._device_method(name)

    def _device_method(self, name: str) -> Any:
        async def method(message: Message) -> tuple[str, list[Any]]:
            path = message.path or ""
            device = next(d for d in self._devices.values() if f"{path}/".startswith(f"{d.path}/"))
            answer: tuple[str, list[Any]] = await getattr(device, name)(message)
            return answer

        return method

    # Commands: the adapter

    def reset(self, monitors: bool = True) -> None:
        """Begin anew, with an adapter that is on and nothing around it."""
        self._tree.cancel_calls()
        for task in self._tasks:
            task.cancel()
        self._tasks.clear()
        for device in self._devices.values():
            device.in_range = device.connected = False
        self._tree.denied = False
        self._tree.remove(ADAPTER)
        self._devices.clear()
        self._discovering.clear()
        self._monitors.clear()
        self._start_refusals.clear()
        self._tree.add(
            ADAPTER,
            ADAPTER_INTERFACE,
            {
                "Address": Variant("s", "00:00:00:00:00:01"),
                "Name": Variant("s", "bench"),
                "Alias": Variant("s", "bench"),
                "Powered": Variant("b", True),
                "Discovering": Variant("b", False),
                "Roles": Variant("as", ["central", "peripheral"]),
            },
        )
        if monitors:
            self._tree.add(ADAPTER, MONITORS, {})

    def power(self, on: bool) -> None:
        """Switch the adapter; switching it off ends every link and every discovery."""
        if not on:
            for device in self._devices.values():
                device.link_down()
            self._discovering.clear()
            self._tree.change(ADAPTER, ADAPTER_INTERFACE, {"Discovering": Variant("b", False)})
        self._tree.change(ADAPTER, ADAPTER_INTERFACE, {"Powered": Variant("b", on)})

    def unplug_adapter(self) -> None:
        """Take the adapter away, with all that hangs on it."""
        self._tree.remove(ADAPTER)

    def classic_only(self) -> None:
        """Leave an adapter that cannot do Bluetooth LE."""
        self._tree.change(ADAPTER, ADAPTER_INTERFACE, {"Roles": Variant("as", [])})

    def deny(self) -> None:
        """Allow this user nothing."""
        self._tree.denied = True

    def busy(self, times: int) -> None:
        """Refuse discoveries because another program has one going."""
        self._start_refusals += [IN_PROGRESS] * times

    async def crash(self) -> None:
        """End at once, as a service that fell over: nothing is said to anybody."""
        await self._tree.flush()
        os._exit(1)

    async def bus_names(self) -> list[str]:
        """List who is on the bus."""
        reply = await self._bus.call(Message(_BUS[0], _BUS[1], _BUS[0], "ListNames"))
        return [name for name in reply.body[0] if name.startswith(":")]  # type: ignore[union-attr]

    def discoveries(self) -> int:
        """Count the discoveries going on."""
        return len(self._discovering) + len(self._monitors)

    # Commands: the devices around

    def device(self, address: str, **what: Any) -> None:
        """Put a device into the air."""
        device = Peripheral(self._tree, address, **what)
        self._devices[address] = device
        self._tasks.append(asyncio.create_task(self._advertise(device)))

    def forget(self, address: str) -> None:
        """Let the service forget a device, as it does with those not heard for long."""
        self._tree.remove(self._devices[address].path)

    def gone(self, address: str) -> None:
        """Take a device away for good."""
        self._devices[address].drop(None)

    def drop(self, address: str, away_s: float) -> None:
        """Break the link; the device is back after so long."""
        self._devices[address].drop(away_s)

    def stall(self, address: str, stalled: bool) -> None:
        """Keep the link and send nothing."""
        self._devices[address].stalled = stalled

    def hold(self, address: str) -> None:
        """Be connected already, as a device is whose program was killed."""
        device = self._devices[address]
        device.advertise(duplicates=True)
        device._link_up()

    def fault(self, address: str, kind: str, detail: Any = True, times: int = 1_000_000) -> None:
        """Let a device do something wrong."""
        self._devices[address].fault(kind, detail, times)

    def stream(
        self, address: str, uuid: str, payloads: list[str], rate_hz: float, interval_s: float = 0.0
    ) -> None:
        """Send payloads to whoever subscribes, at a rate; those not sent wait through a lost link."""
        device = self._devices[address]
        one = device.find(uuid)
        one.queue += [bytes.fromhex(payload) for payload in payloads]
        self._tasks.append(asyncio.create_task(device.stream(one, rate_hz, interval_s)))

    async def notify(self, address: str, uuid: str, payloads: list[str]) -> int:
        """Send payloads now; how many somebody had asked for."""
        device = self._devices[address]
        count = 0
        for number, payload in enumerate(payloads, 1):
            count += device.notify(device.find(uuid), bytes.fromhex(payload))
            if number % AT_ONCE == 0:
                await asyncio.sleep(0.005)  # dbus-fast gives up on a socket that is full
        return count

    def values(self, address: str, uuid: str, payloads: list[str]) -> None:
        """Set what the next reads give; the last one stays."""
        self._devices[address].find(uuid).values = [bytes.fromhex(payload) for payload in payloads]

    def broadcast(self, address: str, uuid: str, payloads: list[str], times: int = 1) -> None:
        """Advertise service data."""
        self._devices[address].broadcast(uuid, [bytes.fromhex(payload) for payload in payloads], times)

    def sent(self, address: str, uuid: str) -> list[str]:
        """What was notified."""
        return self._devices[address].find(uuid).sent

    def waiting(self, address: str, uuid: str) -> int:
        """How many payloads have not been sent yet."""
        return len(self._devices[address].find(uuid).queue)

    def written(self, address: str, uuid: str) -> list[str]:
        """What was written to the device."""
        return self._devices[address].find(uuid).written

    def state(self, address: str) -> dict[str, Any]:
        """How a device stands."""
        device = self._devices[address]
        return {
            "connected": device.connected,
            "connects": device.connects,
            "disconnects": device.disconnects,
            "sessions": sum(len(one.sessions) for one in device.characteristics),
        }

    async def _advertise(self, device: Peripheral) -> None:
        while True:
            await asyncio.sleep(device.interval_s)
            if self.discoveries() and ADAPTER in self._tree.objects:
                device.advertise(bool(self._monitors) or any(self._discovering.values()))

    # The adapter's methods

    async def _set_filter(self, message: Message) -> tuple[str, list[Any]]:
        duplicates = message.body[0].get("DuplicateData", Variant("b", True))
        self._filters[message.sender or ""] = duplicates.value
        return NOTHING

    async def _start_discovery(self, message: Message) -> tuple[str, list[Any]]:
        if not self._tree.objects[ADAPTER][ADAPTER_INTERFACE]["Powered"].value:
            raise NOT_READY
        if self._start_refusals:
            raise self._start_refusals.pop()
        sender = message.sender or ""
        if sender in self._discovering:
            raise IN_PROGRESS
        self._discovering[sender] = self._filters.get(sender, True)
        for device in self._devices.values():
            device.forget_heard()
        self._tree.change(ADAPTER, ADAPTER_INTERFACE, {"Discovering": Variant("b", True)})
        return NOTHING

    async def _stop_discovery(self, message: Message) -> tuple[str, list[Any]]:
        if self._discovering.pop(message.sender or "", None) is None:
            raise RefusedError("org.bluez.Error.Failed", "No discovery started")
        if not self._discovering:
            for device in self._devices.values():
                device.forget_heard()
            self._tree.change(ADAPTER, ADAPTER_INTERFACE, {"Discovering": Variant("b", False)})
        return NOTHING

    async def _remove_device(self, message: Message) -> tuple[str, list[Any]]:
        self._tree.remove(message.body[0])
        return NOTHING

    async def _register_monitor(self, message: Message) -> tuple[str, list[Any]]:
        self._monitors[message.body[0]] = message.sender or ""
        return NOTHING

    async def _unregister_monitor(self, message: Message) -> tuple[str, list[Any]]:
        self._monitors.pop(message.body[0], None)
        return NOTHING

    async def _set_property(self, message: Message) -> tuple[str, list[Any]]:
        interface, name, value = message.body
        self._tree.change(message.path or "", interface, {name: value})
        return NOTHING

    def _watch_names(self, message: Message) -> None:
        if message.message_type is not MessageType.SIGNAL or message.member != "NameOwnerChanged":
            return
        name, _, owner = message.body
        if owner:
            return
        self._discovering.pop(name, None)
        self._monitors = {path: sender for path, sender in self._monitors.items() if sender != name}
        for device in self._devices.values():
            device.gone_from_bus(name)


async def obey(service: Service, line: bytes) -> str:
    """Carry out one command and write its answer."""
    command = json.loads(line)
    try:
        answer = getattr(service, command["call"])(*command["args"], **command["options"])
        if asyncio.iscoroutine(answer):
            answer = await answer
    except Exception as error:  # the test that gave the command shall see what was wrong with it
        return json.dumps({"error": f"{type(error).__name__}: {error}"})
    return json.dumps({"answer": answer})


async def serve() -> None:
    """Own the name and obey until the input ends."""
    bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
    rule = "type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged'"
    await bus.call(Message(_BUS[0], _BUS[1], _BUS[0], "AddMatch", signature="s", body=[rule]))
    service = Service(bus)
    service.reset()
    await bus.request_name("org.bluez")
    lines = asyncio.StreamReader(limit=16_000_000)
    await asyncio.get_running_loop().connect_read_pipe(lambda: asyncio.StreamReaderProtocol(lines), sys.stdin)
    print("ready", flush=True)  # noqa: T201
    while line := await lines.readline():
        print(await obey(service, line), flush=True)  # noqa: T201
    bus.disconnect()


if __name__ == "__main__":
    asyncio.run(serve())

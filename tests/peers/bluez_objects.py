"""Objects on a D-Bus as plain dictionaries, with methods that may refuse, take their time or never answer."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from dbus_fast import Message, MessageType, Variant
from dbus_fast.aio import MessageBus

OBJECT_MANAGER = "org.freedesktop.DBus.ObjectManager"
PROPERTIES = "org.freedesktop.DBus.Properties"

Properties = dict[str, Variant]
Method = Callable[[Message], Awaitable[tuple[str, list[Any]]]]
NOTHING: tuple[str, list[Any]] = ("", [])


class RefusedError(Exception):
    """A method's error reply.

    :param name: ``org.bluez.Error.Failed``, for instance
    """

    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(name, text)
        self.name, self.text = name, text


DENIED = RefusedError("org.freedesktop.DBus.Error.AccessDenied", "Rejected send message")


class ObjectTree:
    """What one service shows on the bus."""

    def __init__(self, bus: MessageBus) -> None:
        self._bus = bus
        self._tasks: set[asyncio.Task[None]] = set()
        self._last_sent: asyncio.Future[Any] | None = None
        self.objects: dict[str, dict[str, Properties]] = {}
        self.methods: dict[tuple[str, str], Method] = {}
        self.denied = False
        bus.add_message_handler(self._take)

    def add(self, path: str, interface: str, properties: Properties) -> None:
        """Show an object and say so."""
        self.objects.setdefault(path, {})[interface] = properties
        self._signal("/", OBJECT_MANAGER, "InterfacesAdded", "oa{sa{sv}}", [path, {interface: properties}])

    def remove(self, path: str) -> None:
        """Take an object and all below it away, the lowest first, and say so."""
        for below in sorted((p for p in self.objects if p == path or p.startswith(f"{path}/")), reverse=True):
            interfaces = list(self.objects.pop(below))
            self._signal("/", OBJECT_MANAGER, "InterfacesRemoved", "oas", [below, interfaces])

    def change(
        self, path: str, interface: str, changed: Properties, invalidated: tuple[str, ...] = ()
    ) -> None:
        """Set properties and say so, also when they have that value already."""
        properties = self.objects[path][interface]
        properties.update(changed)
        for name in invalidated:
            properties.pop(name, None)
        self._signal(
            path, PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, changed, list(invalidated)]
        )

    def cancel_calls(self) -> None:
        """Drop the calls that have not been answered."""
        for task in self._tasks:
            task.cancel()

    async def flush(self) -> None:
        """Wait until everything has been handed to the bus."""
        if self._last_sent is not None:
            await self._last_sent

    def _signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        self._last_sent = self._bus.send(Message.new_signal(path, interface, member, signature, body))

    def _take(self, message: Message) -> Message | bool | None:
        if message.message_type is not MessageType.METHOD_CALL:
            return None
        if self.denied:
            return _refuse(message, DENIED)
        if (message.interface, message.member) == (OBJECT_MANAGER, "GetManagedObjects"):
            return Message.new_method_return(message, "a{oa{sa{sv}}}", [self.objects])
        if message.path is None or not message.path.startswith("/org/bluez"):
            return None
        if message.path not in self.objects:
            return _refuse(
                message, RefusedError("org.freedesktop.DBus.Error.UnknownObject", "no such object")
            )
        method = self.methods.get((message.interface or "", message.member or ""))
        if method is None or message.interface not in (*self.objects[message.path], PROPERTIES):
            return _refuse(
                message, RefusedError("org.freedesktop.DBus.Error.UnknownMethod", str(message.member))
            )
        task = asyncio.create_task(self._answer(message, method))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return True

    async def _answer(self, message: Message, method: Method) -> None:
        try:
            reply = Message.new_method_return(message, *await method(message))
        except RefusedError as refusal:
            reply = _refuse(message, refusal)
        self._last_sent = self._bus.send(reply)


def _refuse(message: Message, refusal: RefusedError) -> Message:
    return Message.new_error(message, refusal.name, refusal.text)

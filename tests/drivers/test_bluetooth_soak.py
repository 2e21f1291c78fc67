"""A scale on a bad link: whatever happens to it, each payload that it sent arrives once and in order."""

from __future__ import annotations

import asyncio
import random

import pytest

from drivers import DeviceError, open_device
from tests.peers.bluez import SCALE, WEIGHT, Bluez, leave_bus, weights

pytestmark = pytest.mark.long

A = "C0:FF:EE:00:00:01"
ADDRESS = f"ble:{A}?silent_s=0.6&timeout_s=4"
RATE_HZ, INTERVAL_S = 200, 0.05
SOAK_S = 16.0


class BadLink:
    """Faults, one after the other; keeps what the scale has sent through crashes of the system's service."""

    def __init__(self, bluez: Bluez) -> None:
        self._bluez = bluez
        self._sent_before: list[str] = []
        self.faults = 0

    def begin(self) -> None:
        self._bluez.tell("device", A, name="Bench Scale", services=SCALE)
        rest = weights(20_000, first=len(self._sent_before))
        self._bluez.tell("stream", A, WEIGHT, rest, RATE_HZ, INTERVAL_S)

    def sent(self) -> list[str]:
        return self._sent_before + self._bluez.tell("sent", A, WEIGHT)

    async def misbehave(self, seconds: float, chance: random.Random) -> None:
        loop = asyncio.get_running_loop()
        until_s = loop.time() + seconds
        kinds = (self.drop, self.drop, self.bad_discovery, self.refusal, self.stall, self.adapter, self.crash)
        while loop.time() < until_s:
            await chance.choice(kinds)(chance)
            self.faults += 1
            await asyncio.sleep(chance.uniform(0.2, 0.9))

    async def drop(self, chance: random.Random) -> None:
        self._bluez.tell("drop", A, chance.uniform(0.0, 0.3))

    async def bad_discovery(self, chance: random.Random) -> None:
        self._bluez.tell("fault", A, "drop in discovery", times=chance.randint(1, 2))
        await self.drop(chance)

    async def refusal(self, chance: random.Random) -> None:
        error = ["org.bluez.Error.Failed", "Software caused connection abort"]
        self._bluez.tell("fault", A, "refuse connect", error, times=1)
        await self.drop(chance)

    async def stall(self, chance: random.Random) -> None:
        self._bluez.tell("stall", A, True)
        await asyncio.sleep(chance.uniform(0.2, 1.0))
        self._bluez.tell("stall", A, False)

    async def adapter(self, _: random.Random) -> None:
        self._bluez.tell("power", False)
        await asyncio.sleep(0.2)
        self._bluez.tell("power", True)

    async def crash(self, _: random.Random) -> None:
        self._bluez.tell("stall", A, True)
        self._sent_before = self.sent()
        self._bluez.crash()
        await asyncio.sleep(0.1)
        self._bluez.start()
        self.begin()


async def brew_after_brew(received: list[int]) -> None:
    """Read for ever, each time with a device of its own."""
    while True:
        try:
            async with open_device(ADDRESS) as device:
                async for reading in device:
                    received.append(round(reading.value / 5.0))  # noqa: PERF401  # an error must not lose them
        except DeviceError:
            await asyncio.sleep(0.1)


async def test_every_payload_arrives_once_and_in_order(monkeypatch):
    monkeypatch.setattr("drivers.transports.bluetooth.ANSWER_S", 1.0)
    received: list[int] = []
    with Bluez() as bluez:
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bluez.address)
        link = BadLink(bluez)
        link.begin()
        reader = asyncio.create_task(brew_after_brew(received), name="evencup soak")
        await link.misbehave(SOAK_S, random.Random(12))
        bluez.tell("stall", A, True)
        sent = link.sent()
        async with asyncio.timeout(10):
            while len(received) < len(sent):  # noqa: ASYNC110  # what is in flight arrives
                await asyncio.sleep(0.05)
        await asyncio.sleep(0.2)
        reader.cancel()
        with pytest.raises(asyncio.CancelledError):
            await reader
        await leave_bus()
    assert received == [int.from_bytes(bytes.fromhex(packet)[1:3], "little") for packet in sent]
    assert link.faults >= 10
    assert len(sent) > 300

"""A stand-in for Linux' Bluetooth service: a private D-Bus and, in a process of its own, a scripted BlueZ.

The bleak library works on it unmodified. Shares no code with ``drivers``; written from BlueZ's published
D-Bus interface.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import select
import shutil
import subprocess
import sys
from pathlib import Path
from typing import IO, Any, Self

import pytest

SERVICE = Path(__file__).with_name("bluez_service.py")
ANSWER_S = 20.0

# The shell ends the bus with its own input, so that none outlives a test run that was killed.
_BUS = "dbus-daemon --session --nofork --print-address 2>/dev/null & cat >/dev/null; kill $!; wait"


def uuid(short: str) -> str:
    """Write an assigned number in full: ``2a9d`` as ``00002a9d-0000-1000-8000-00805f9b34fb``."""
    return f"0000{short}-0000-1000-8000-00805f9b34fb"


WEIGHT, FEATURE, BATTERY = uuid("2a9d"), uuid("2a9e"), uuid("2a19")
SCALE = {
    uuid("181d"): {
        WEIGHT: {"flags": ["indicate"]},
        FEATURE: {"flags": ["read"], "value": "38000000"},  # weights in steps of 5 g
    },
    uuid("180f"): {BATTERY: {"flags": ["read", "notify"], "value": "61"}},
}
"""The services of a kitchen scale: weight (0x181D) and battery (0x180F), 97 per cent."""


def weights(count: int, first: int = 0) -> list[str]:
    """Write packets of 0x2A9D for 0 g, 5 g, 10 g ..., so that none is equal to another."""
    return [(b"\0" + number.to_bytes(2, "little")).hex() for number in range(first, first + count)]


async def leave_bus() -> None:
    """Close the connection that the library keeps for as long as its event loop lives."""
    from bleak.backends.bluezdbus import manager

    instance = manager._global_instances.pop(asyncio.get_running_loop(), None)
    if instance is not None and instance._bus is not None:
        instance._bus.disconnect()
        with contextlib.suppress(Exception):  # what ended the bus is told again here
            await instance._bus.wait_for_disconnect()


class Bluez:
    """A bus and a Bluetooth service on it; both end with the ``with`` block."""

    def __init__(self) -> None:
        if sys.platform != "linux":
            pytest.skip("BlueZ is Linux' Bluetooth service")
        if shutil.which("dbus-daemon") is None:
            pytest.skip("apt-get install dbus")
        self._service: subprocess.Popen[bytes] | None = None
        self._bus: subprocess.Popen[bytes] | None = None
        self.address = ""

    def __enter__(self) -> Self:
        self.renew()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        self.stop_bus()

    def renew(self) -> None:
        """Begin anew for the next test, whatever the last one has broken."""
        if self._bus is None:
            self.stop()
            self._bus = subprocess.Popen(["sh", "-c", _BUS], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
            self.address = _line(self._bus.stdout)
        if self._service is None:
            self.start()
        else:
            self.tell("reset")

    def start(self) -> None:
        """Start the service, with a powered adapter and nothing in the air."""
        self._service = subprocess.Popen(
            [sys.executable, str(SERVICE)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": self.address},
        )
        assert _line(self._service.stdout) == "ready"

    def stop(self) -> None:
        """End the service in good order."""
        if self._service is not None:
            _end(self._service)
            self._service = None

    def crash(self) -> None:
        """Let the service fall over; :meth:`start` brings a new one, which knows of nothing."""
        self._send("crash")
        assert self._service is not None
        self._service.wait(ANSWER_S)
        self.stop()

    def stop_bus(self) -> None:
        """End the bus itself."""
        if self._bus is not None:
            _end(self._bus)
            self._bus = None

    def tell(self, call: str, *args: Any, **options: Any) -> Any:
        """Give the service a command, one of :class:`tests.peers.bluez_service.Service`'s methods."""
        self._send(call, *args, **options)
        assert self._service is not None
        answer = json.loads(_line(self._service.stdout))
        assert "error" not in answer, answer
        return answer["answer"]

    def _send(self, call: str, *args: Any, **options: Any) -> None:
        assert self._service is not None
        assert self._service.stdin is not None
        line = json.dumps({"call": call, "args": args, "options": options})
        self._service.stdin.write(f"{line}\n".encode())
        self._service.stdin.flush()


def _line(pipe: IO[bytes] | None) -> str:
    assert pipe is not None
    ready, _, _ = select.select([pipe], [], [], ANSWER_S)
    assert ready, "the Bluetooth stand-in does not answer"
    return pipe.readline().decode().strip()


def _end(process: subprocess.Popen[bytes]) -> None:
    assert process.stdin is not None
    assert process.stdout is not None
    with contextlib.suppress(BrokenPipeError):
        process.stdin.close()
    try:
        process.wait(5)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    process.stdout.close()

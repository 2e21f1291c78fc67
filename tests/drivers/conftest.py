"""What every test of a driver is held to, and the far ends that several of them need."""

from __future__ import annotations

import threading
import time
from collections.abc import AsyncIterator, Iterator
from typing import Any

import pytest

from tests.peers.bluez import Bluez, leave_bus


@pytest.fixture(autouse=True)
def no_thread_left_behind() -> Iterator[None]:
    before = set(threading.enumerate())
    yield
    deadline_s = time.monotonic() + 3.0
    while left := [t for t in threading.enumerate() if t not in before and t.name.startswith("evencup")]:
        assert time.monotonic() < deadline_s, f"still running: {left}"
        time.sleep(0.01)


@pytest.fixture
def instrument() -> Iterator[Any]:
    """The far end of a pseudo-terminal."""
    pty_instrument = pytest.importorskip("tests.peers.pty_instrument", reason="pseudo-terminals need POSIX")
    with pty_instrument.PtyInstrument() as one:
        yield one


@pytest.fixture(scope="module")
def bluetooth_service() -> Iterator[Bluez]:
    with Bluez() as one:
        yield one


@pytest.fixture
async def bluez(bluetooth_service: Bluez, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Bluez]:
    """The system's Bluetooth, as new."""
    bluetooth_service.renew()
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bluetooth_service.address)
    yield bluetooth_service
    await leave_bus()

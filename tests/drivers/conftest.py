"""What every test of a driver is held to."""

from __future__ import annotations

import threading
import time

import pytest


@pytest.fixture(autouse=True)
def no_thread_left_behind():
    before = set(threading.enumerate())
    yield
    deadline_s = time.monotonic() + 3.0
    while left := [t for t in threading.enumerate() if t not in before and t.name.startswith("evencup")]:
        assert time.monotonic() < deadline_s, f"still running: {left}"
        time.sleep(0.01)

"""Devices that run as fast as they can take turns, so that together they come in the order of time."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Iterator


class Merge:
    """Lets the reading with the earliest time go first, and none while held.

    It is held at the beginning: a device that never waits would otherwise have run out before the first
    recording begins.
    """

    def __init__(self) -> None:
        self._members: set[int] = set()
        self._waiting: dict[int, float] = {}
        self._calls: dict[int, asyncio.Event] = {}
        self._held = True

    @contextlib.contextmanager
    def member(self, number: int) -> Iterator[None]:
        """Count a device in for as long as it may have readings."""
        self._members.add(number)
        try:
            yield
        finally:
            self._members.discard(number)
            self._call_next()

    async def turn(self, number: int, time_s: float) -> None:
        """Wait until no other device can have an earlier reading."""
        self._waiting[number] = time_s
        call = self._calls[number] = asyncio.Event()
        try:
            # Looked at again after each call: the merge may be held between the call and the waking.
            while self._next() != number:
                self._call_next()
                call.clear()
                await call.wait()
        finally:
            del self._waiting[number]
            del self._calls[number]

    def resume(self) -> None:
        """Let readings through."""
        self._held = False
        self._call_next()

    def hold(self) -> None:
        """Let no reading through."""
        self._held = True

    def _next(self) -> int | None:
        if self._held or not self._waiting or len(self._waiting) < len(self._members):
            return None
        return min(self._waiting, key=lambda number: (self._waiting[number], number))

    def _call_next(self) -> None:
        number = self._next()
        if number in self._calls:
            self._calls[number].set()

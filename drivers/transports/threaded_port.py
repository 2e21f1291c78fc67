"""A port whose calls wait or even block, owned by one thread from opening to closing.

So nothing that may block ever runs in the event loop, and an opening that was cancelled is still closed. The
thread stamps what it reads on the monotonic clock and hands it over; it never waits for lines or frames. What
nobody has taken off yet stands in a queue of bounded length; each kind of port says what happens at its end.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from abc import ABC, abstractmethod
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Generic, Protocol, TypeVar

from drivers.errors import DeviceError, DeviceLostError, DeviceNotFoundError

OPEN_TIMEOUT_S = 10.0
CLOSE_TIMEOUT_S = 2.0
POLL_S = 0.1
"""How long a call may wait in the thread, which cannot notice in between that it should stop."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Bytes that arrived together, or one report.

    :param time_s: on the host's monotonic clock
    """

    time_s: float
    data: bytes


class Handle(Protocol):
    """What is open."""

    def close(self) -> None:
        """Close it."""


HandleT = TypeVar("HandleT", bound=Handle)


class ThreadedPort(ABC, Generic[HandleT]):
    """A port in use. It is opened once; make another to open it again.

    :param address: as the user wrote it, for messages
    :param name: of the port, for the thread
    :param waiting: how many arrivals may wait to be taken off
    """

    write_timeout_s: ClassVar[float]
    """How long a write may take."""
    failures: ClassVar[tuple[type[Exception], ...]]
    """What the handle raises once the device is gone."""
    write_failure_ends: ClassVar[bool]
    """Whether nothing is read any more after a write that failed."""

    def __init__(self, address: str, name: str, waiting: int) -> None:
        self._address, self._name = address, name
        self._stop = threading.Event()
        self._room = threading.Semaphore(waiting)
        self._outbox: deque[tuple[bytes, asyncio.Future[None]]] = deque()
        self._thread: threading.Thread | None = None

    async def open(self) -> None:
        """Open the port.

        :raises DeviceError: not found, denied, in use, or set in a way that it cannot be
        """
        self._loop = asyncio.get_running_loop()
        self._arrived: asyncio.Queue[Arrival | DeviceError] = asyncio.Queue()
        self._opened: asyncio.Future[None] = self._loop.create_future()
        self._closed = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name=f"evencup {self._name}", daemon=True)
        self._thread.start()
        try:
            async with asyncio.timeout(OPEN_TIMEOUT_S):
                await self._opened
        except TimeoutError:
            self._end()
            raise DeviceNotFoundError(
                self._address,
                f"it did not open within {OPEN_TIMEOUT_S:g} s",
                "Unplug it and plug it in again.",
            ) from None
        except BaseException:
            self._end()
            raise

    async def read(self) -> Arrival:
        """Wait for what arrives next.

        :raises DeviceLostError: when the link broke, after everything that came before has been given
        """
        item = await self._arrived.get()
        if isinstance(item, Arrival):
            self._room.release()
            return item
        self._arrived.put_nowait(item)
        raise item

    async def write(self, data: bytes) -> None:
        """Send bytes; to a HID device a report, its id first.

        :raises DeviceLostError: when the link is broken or takes nothing
        """
        sent: asyncio.Future[None] = self._loop.create_future()
        if self._closed.is_set():
            raise self._lost()
        self._outbox.append((data, sent))
        self._wake()
        try:
            async with asyncio.timeout(self.write_timeout_s):
                await sent
        except TimeoutError:
            raise self._not_taken() from None

    async def close(self) -> None:
        """Close the port; bounded in time, and without effect when it is closed already or never was open."""
        if self._thread is None:
            return
        self._end()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(CLOSE_TIMEOUT_S):
                await self._closed.wait()
                self._thread.join(POLL_S)

    def _end(self) -> None:
        self._stop.set()
        self._wake()

    def _wake(self) -> None:
        """Let the thread look at once for what is to be sent, where it can be woken."""

    @abstractmethod
    def _lost(self) -> DeviceLostError:
        """Say that the link broke."""

    @abstractmethod
    def _not_taken(self) -> DeviceLostError:
        """Say that the device does not take what was sent."""

    # Everything below runs in the thread.

    @abstractmethod
    def _open_handle(self) -> HandleT:
        """Open what the thread will own; whatever is raised becomes one of our kinds."""

    @abstractmethod
    def _opening_error(self, error: Exception) -> DeviceError:
        """Translate what was raised while opening and is none of our kinds."""

    @abstractmethod
    def _receive(self, handle: HandleT) -> bytes:
        """Wait a while for bytes; none when there is something else to do."""

    @abstractmethod
    def _transmit(self, handle: HandleT, data: bytes) -> None:
        """Send bytes; what is raised when it failed is one of ``failures``."""

    @abstractmethod
    def _when_full(self) -> bool:
        """Do what is to be done when nobody takes the arrivals off; say whether there is room now."""

    def _run(self) -> None:
        try:
            self._own()
        finally:
            self._post(self._finish)

    def _own(self) -> None:
        try:
            handle = self._open_handle()
        except Exception as error:  # whatever the library raises becomes one of our kinds
            failure = error
            if not isinstance(error, DeviceError):
                failure = self._opening_error(error)
                failure.__cause__ = error
            self._post(lambda: _settle(self._opened, failure))
            return
        try:
            self._post(lambda: _settle(self._opened))
            self._pump(handle)
        except Exception as error:  # a reader that died in silence would leave the brewer waiting
            lost = self._lost_by(error)
            self._post(lambda: self._arrived.put_nowait(lost))
        finally:
            with contextlib.suppress(*self.failures):
                handle.close()

    def _pump(self, handle: HandleT) -> None:
        while not self._stop.is_set():
            while self._outbox:
                self._send(handle, *self._outbox.popleft())
            data = self._receive(handle)
            if data:
                self._hand_over(Arrival(time.monotonic(), data))

    def _send(self, handle: HandleT, data: bytes, sent: asyncio.Future[None]) -> None:
        try:
            self._transmit(handle, data)
        except self.failures as error:
            failure = self._lost_by(error)
            self._post(lambda: _settle(sent, failure))
            if self.write_failure_ends:
                raise
        else:
            self._post(lambda: _settle(sent))

    def _hand_over(self, arrival: Arrival) -> None:
        if self._room.acquire(blocking=False) or self._when_full():
            self._post(lambda: self._arrived.put_nowait(arrival))

    def _lost_by(self, error: Exception) -> DeviceLostError:
        lost = self._lost()
        lost.__cause__ = error
        return lost

    def _finish(self) -> None:
        for _, sent in self._outbox:
            _settle(sent, self._lost())
        self._outbox.clear()
        self._closed.set()

    def _post(self, call: Callable[[], None]) -> None:
        with contextlib.suppress(RuntimeError):  # the event loop is closed: nobody waits any more
            self._loop.call_soon_threadsafe(call)


def _settle(future: asyncio.Future[None], error: Exception | None = None) -> None:
    if future.done():
        return
    if error is None:
        future.set_result(None)
    else:
        future.set_exception(error)

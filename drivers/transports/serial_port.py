"""How bytes arrive from a serial port, or anything else that pyserial can open by URL.

One thread owns the port from opening to closing, so that no call that may block ever runs in the event
loop, and a cancelled opening is still closed. The thread stamps what it reads on the monotonic clock and
hands it over; it never waits for lines.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import socket
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

import serial

from drivers.errors import DeviceError, DeviceLostError, DeviceNotFoundError
from drivers.transports.serial_failures import LINK_FAILURES, lost_error, opening_error

OPEN_TIMEOUT_S = 10.0
CLOSE_TIMEOUT_S = 2.0
WRITE_TIMEOUT_S = 2.0

_CHUNK_BYTES = 4096
_WAITING_CHUNKS = 4096  # at most 16 MiB wait for a program that does not keep up
_POLL_S = 0.1


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How the line is set, in pyserial's values."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: float = 1


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that arrived together.

    :param time_s: on the host's monotonic clock
    """

    time_s: float
    data: bytes


class SerialPort:
    """A serial port in use.

    :param address: as the user wrote it, for messages
    :param url: ``/dev/ttyUSB0``, ``COM3``, ``socket://host:port``, ``rfc2217://host:port``, ``loop://``
    """

    def __init__(self, address: str, url: str, settings: PortSettings) -> None:
        self._address, self._url, self._settings = address, url, settings
        self._polled = _must_be_polled(url)
        self._stop = threading.Event()
        self._room = threading.Semaphore(_WAITING_CHUNKS)
        self._outbox: deque[tuple[bytes, asyncio.Future[None]]] = deque()
        self.stalls = 0
        """How often the thread had to wait because nobody took the chunks off."""

    async def open(self) -> None:
        """Open the port.

        :raises DeviceError: not found, denied, in use, or set in a way that it cannot be
        """
        self._loop = asyncio.get_running_loop()
        self._arrived: asyncio.Queue[Chunk | DeviceError] = asyncio.Queue()
        self._opened: asyncio.Future[None] = self._loop.create_future()
        self._closed = asyncio.Event()
        self._wake_in, self._wake_out = socket.socketpair()
        self._thread = threading.Thread(target=self._run, name=f"evencup {self._url}", daemon=True)
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

    async def read(self) -> Chunk:
        """Wait for bytes.

        :raises DeviceLostError: when the link broke, after everything that came before has been given
        """
        item = await self._arrived.get()
        if isinstance(item, Chunk):
            self._room.release()
            return item
        self._arrived.put_nowait(item)
        raise item

    async def write(self, data: bytes) -> None:
        """Send bytes.

        :raises DeviceLostError: when the link is broken or takes nothing
        """
        sent: asyncio.Future[None] = self._loop.create_future()
        if self._closed.is_set():
            raise lost_error(self._address, self._url)
        self._outbox.append((data, sent))
        self._wake()
        try:
            async with asyncio.timeout(2 * WRITE_TIMEOUT_S):
                await sent
        except TimeoutError:
            raise DeviceLostError(
                self._address, "it takes no bytes", "Check the cable and the device's flow control."
            ) from None

    async def close(self) -> None:
        """Close the port; bounded in time, and without effect when it is closed already."""
        self._end()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(CLOSE_TIMEOUT_S):
                await self._closed.wait()
                self._thread.join(_POLL_S)

    def _end(self) -> None:
        self._stop.set()
        self._wake()

    def _wake(self) -> None:
        with contextlib.suppress(OSError):
            self._wake_out.send(b"x")

    # Everything below runs in the thread.

    def _run(self) -> None:
        try:
            self._own_port()
        finally:
            self._wake_in.close()
            self._wake_out.close()
            self._post(self._finish)

    def _own_port(self) -> None:
        try:
            port = self._open_port()
        except Exception as error:  # whatever pyserial and its URL handlers raise becomes one of our kinds
            failure = opening_error(self._address, self._url, error)
            failure.__cause__ = error
            self._post(lambda: _settle(self._opened, failure))
            return
        try:
            self._post(lambda: _settle(self._opened))
            self._pump(port)
        except Exception as error:  # a reader that died in silence would leave the brewer waiting
            lost = lost_error(self._address, self._url)
            lost.__cause__ = error
            self._post(lambda: self._arrived.put_nowait(lost))
        finally:
            with contextlib.suppress(*LINK_FAILURES):
                port.close()

    def _open_port(self) -> serial.SerialBase:
        options: dict[str, Any] = {}
        if "://" not in self._url:
            options["exclusive"] = True  # without the lock, two programs would get half the bytes each
        if not self._url.lower().startswith("rfc2217://"):
            options["write_timeout"] = WRITE_TIMEOUT_S  # which pyserial cannot do over RFC 2217
        return cast(
            serial.SerialBase,
            serial.serial_for_url(
                self._url,
                baudrate=self._settings.baud,
                bytesize=self._settings.bytesize,
                parity=self._settings.parity,
                stopbits=self._settings.stopbits,
                timeout=_POLL_S if self._polled else 0,
                **options,
            ),
        )

    def _pump(self, port: serial.SerialBase) -> None:
        take = _take_polled if self._polled else self._take_ready
        while not self._stop.is_set():
            while self._outbox:
                self._send(port, *self._outbox.popleft())
            data = take(port)
            if data:
                self._hand_over(Chunk(time.monotonic(), data))

    def _take_ready(self, port: serial.SerialBase) -> bytes:
        port_fd, wake_fd = port.fileno(), self._wake_in.fileno()
        ready, _, _ = select.select([port_fd, wake_fd], [], [])
        if wake_fd in ready:
            self._wake_in.recv(_CHUNK_BYTES)
        return bytes(port.read(_CHUNK_BYTES)) if port_fd in ready else b""

    def _send(self, port: serial.SerialBase, data: bytes, sent: asyncio.Future[None]) -> None:
        try:
            port.write(data)
        except LINK_FAILURES as error:
            failure = lost_error(self._address, self._url)
            failure.__cause__ = error
            self._post(lambda: _settle(sent, failure))
            raise
        self._post(lambda: _settle(sent))

    def _hand_over(self, chunk: Chunk) -> None:
        if not self._room.acquire(blocking=False):
            self.stalls += 1
            while not self._room.acquire(timeout=_POLL_S):
                if self._stop.is_set():
                    return
        self._post(lambda: self._arrived.put_nowait(chunk))

    def _finish(self) -> None:
        for _, sent in self._outbox:
            _settle(sent, lost_error(self._address, self._url))
        self._outbox.clear()
        self._closed.set()

    def _post(self, call: Callable[[], None]) -> None:
        with contextlib.suppress(RuntimeError):  # the event loop is closed: nobody waits any more
            self._loop.call_soon_threadsafe(call)


def _settle(future: asyncio.Future[None], error: DeviceError | None = None) -> None:
    if future.done():
        return
    if error is None:
        future.set_result(None)
    else:
        future.set_exception(error)


def _must_be_polled(url: str) -> bool:
    """Say whether there is no descriptor to wait on: Windows' ports, and most of pyserial's URLs."""
    if url.lower().startswith("socket://"):
        return False
    return os.name != "posix" or "://" in url


def _take_polled(port: serial.SerialBase) -> bytes:
    data = bytes(port.read(1))
    waiting = min(port.in_waiting, _CHUNK_BYTES) if data else 0  # type: ignore[attr-defined]  # every port has it
    return data + bytes(port.read(waiting)) if waiting else data

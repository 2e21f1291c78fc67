"""How bytes arrive from a serial port, or anything else that pyserial can open by URL."""

from __future__ import annotations

import contextlib
import os
import select
import socket
from dataclasses import dataclass
from typing import Any, ClassVar, cast

import serial

from drivers.errors import DeviceError, DeviceLostError
from drivers.transports.serial_failures import LINK_FAILURES, lost_error, opening_error
from drivers.transports.threaded_port import POLL_S, ThreadedPort

WRITE_TIMEOUT_S = 2.0

_CHUNK_BYTES = 4096
_WAITING_CHUNKS = 4096  # at most 16 MiB wait for a program that does not keep up


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How the line is set, in pyserial's values."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: float = 1


class SerialPort(ThreadedPort[serial.SerialBase]):
    """A serial port in use.

    :param address: as the user wrote it, for messages
    :param url: ``/dev/ttyUSB0``, ``COM3``, ``socket://host:port``, ``rfc2217://host:port``, ``loop://``
    """

    write_timeout_s: ClassVar = 2 * WRITE_TIMEOUT_S
    failures: ClassVar = LINK_FAILURES
    write_failure_ends: ClassVar = True

    def __init__(self, address: str, url: str, settings: PortSettings) -> None:
        super().__init__(address, url, _WAITING_CHUNKS)
        self._url, self._settings = url, settings
        self._polled = _must_be_polled(url)
        self.stalls = 0
        """How often the thread had to wait because nobody took the chunks off."""

    async def open(self) -> None:
        """Open the port.

        :raises DeviceError: not found, denied, in use, or set in a way that it cannot be
        """
        self._wake_in, self._wake_out = socket.socketpair()
        await super().open()

    def _wake(self) -> None:
        with contextlib.suppress(OSError):
            self._wake_out.send(b"x")

    def _lost(self) -> DeviceLostError:
        return lost_error(self._address, self._url)

    def _not_taken(self) -> DeviceLostError:
        return DeviceLostError(
            self._address, "it takes no bytes", "Check the cable and the device's flow control."
        )

    # Everything below runs in the thread.

    def _own(self) -> None:
        try:
            super()._own()
        finally:
            self._wake_in.close()
            self._wake_out.close()

    def _open_handle(self) -> serial.SerialBase:
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
                timeout=POLL_S if self._polled else 0,
                **options,
            ),
        )

    def _opening_error(self, error: Exception) -> DeviceError:
        return opening_error(self._address, self._url, error)

    def _receive(self, handle: serial.SerialBase) -> bytes:
        return _take_polled(handle) if self._polled else self._take_ready(handle)

    def _take_ready(self, port: serial.SerialBase) -> bytes:
        port_fd, wake_fd = port.fileno(), self._wake_in.fileno()
        ready, _, _ = select.select([port_fd, wake_fd], [], [])
        if wake_fd in ready:
            self._wake_in.recv(_CHUNK_BYTES)
        return bytes(port.read(_CHUNK_BYTES)) if port_fd in ready else b""

    def _transmit(self, handle: serial.SerialBase, data: bytes) -> None:
        handle.write(data)

    def _when_full(self) -> bool:
        self.stalls += 1
        while not self._room.acquire(timeout=POLL_S):
            if self._stop.is_set():
                return False
        return True


def _must_be_polled(url: str) -> bool:
    """Say whether there is no descriptor to wait on: Windows' ports, and most of pyserial's URLs."""
    if url.lower().startswith("socket://"):
        return False
    return os.name != "posix" or "://" in url


def _take_polled(port: serial.SerialBase) -> bytes:
    data = bytes(port.read(1))
    waiting = min(port.in_waiting, _CHUNK_BYTES) if data else 0  # type: ignore[attr-defined]  # every port has it
    return data + bytes(port.read(waiting)) if waiting else data

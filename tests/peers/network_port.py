"""A stand-in for a serial port shared over the network by RFC 2217 (telnet with port settings)."""

from __future__ import annotations

import socket
import threading
from typing import Self

import serial
import serial.rfc2217


class NetworkPort:
    """Serves one connection: what it is told to send goes to the host, settings are taken and kept.

    The port behind it is pyserial's loop, which has modem lines; a pseudo-terminal has none.
    """

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._behind = serial.serial_for_url("loop://", timeout=0)
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="network port", daemon=True)
        self.url = f"rfc2217://127.0.0.1:{self._listener.getsockname()[1]}"

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.close()
        self._thread.join(5)
        self._behind.close()

    @property
    def baud(self) -> int:
        return self._behind.baudrate

    def send(self, data: bytes) -> None:
        self._ready.wait(5)
        self._connection.sendall(b"".join(self._manager.escape(data)))

    def write(self, data: bytes) -> None:
        """Send what the telnet negotiation wants to send."""
        self._connection.sendall(data)

    def _serve(self) -> None:
        self._connection, _ = self._listener.accept()
        with self._connection:
            self._manager = serial.rfc2217.PortManager(self._behind, self)
            self._ready.set()
            while data := self._connection.recv(1024):
                for _ in self._manager.filter(data):
                    pass

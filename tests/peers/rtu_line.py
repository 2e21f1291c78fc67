"""A Modbus unit whose every byte is up to the test: a pseudo-terminal and hand-made RTU frames."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterable
from typing import Self

from tests.peers.pty_instrument import PtyInstrument


def crc(data: bytes) -> bytes:
    """Compute CRC-16/MODBUS bit by bit, low byte first as on the line.

    Polynomial 0x8005 reflected to 0xA001, start 0xFFFF (MODBUS over Serial Line V1.02, 6.2.2).
    """
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return value.to_bytes(2, "little")


def frame(data: bytes) -> bytes:
    """Put the check behind a message."""
    return data + crc(data)


def answer(*words: int, unit: int = 1, function: int = 3) -> bytes:
    """Write the answer to a request for registers."""
    values = b"".join(word.to_bytes(2, "big") for word in words)
    return frame(bytes([unit, function, len(values)]) + values)


class RtuLine:
    """Hands each request to the test and sends what it gives back.

    :param reply: from the request to pieces to send; a number among them is a pause in seconds
    """

    def __init__(self, reply: Callable[[bytes], Iterable[bytes | float]]) -> None:
        self._reply = reply
        self._instrument = PtyInstrument()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="rtu line", daemon=True)
        self.port = self._instrument.port
        self.requests: list[bytes] = []

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self._instrument.unplug()

    def _serve(self) -> None:
        while not self._stop.wait(0.005):
            with contextlib.suppress(OSError):  # nobody has the port open
                if self._instrument.listened_to() and (request := self._instrument.received(0.05)):
                    self.requests.append(request)
                    self._send(self._reply(request))

    def _send(self, pieces: Iterable[bytes | float]) -> None:
        for piece in pieces:
            if isinstance(piece, bytes):
                self._instrument.write(piece)
            else:
                time.sleep(piece)

"""The hardware half of a stand-in instrument: a pseudo-terminal that a program opens like a serial port."""

from __future__ import annotations

import os
import select
import threading
import time
import tty
from collections.abc import Callable, Iterable
from typing import Self


class PtyInstrument:
    """An instrument on the far end of a cable.

    Nothing is sent before somebody has opened the port, and what is sent then arrives, in order.
    """

    def __init__(self) -> None:
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self.port = os.ttyname(slave)
        os.close(slave)  # so that the master can tell whether anybody has the port open
        self._plugged_in = True
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self.lines_sent = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        self.unplug()

    def listened_to(self) -> bool:
        """Say whether somebody has the port open."""
        poll = select.poll()
        poll.register(self._master, select.POLLOUT)
        return not any(event & select.POLLHUP for _, event in poll.poll(0))

    def write(self, data: bytes) -> None:
        """Send bytes; waits while the cable is full."""
        while data:
            data = data[os.write(self._master, data) :]

    def received(self, timeout_s: float = 2.0) -> bytes:
        """What the host has sent, waiting for its first byte."""
        ready, _, _ = select.select([self._master], [], [], timeout_s)
        return os.read(self._master, 4096) if ready else b""

    def unplug(self) -> None:
        """Pull the cable."""
        if self._plugged_in:
            self._plugged_in = False
            os.close(self._master)

    def send_lines(
        self,
        lines: Iterable[bytes],
        rate_hz: float,
        settle_s: float = 0.3,
        at_host_bytes: Callable[[bytes], None] = lambda _: None,
    ) -> None:
        """Wait until the port is opened, then send a line every 1/rate seconds, as long as it stays open.

        :param settle_s: pause after the opening; a host throws away what comes while it sets the line
        :param at_host_bytes: called with what the host sends meanwhile
        """
        while not self.listened_to():
            if self._stop.wait(0.01):
                return
        start_s = time.monotonic() + settle_s
        for number, line in enumerate(lines):
            if self._stop.wait(max(0.0, start_s + number / rate_hz - time.monotonic())):
                return
            if not self.listened_to():
                return
            if host_bytes := self.received(0):
                at_host_bytes(host_bytes)
            self.write(line)
            self.lines_sent += 1

    def start(self, lines: Iterable[bytes], rate_hz: float, settle_s: float = 0.0) -> None:
        """Do :meth:`send_lines` in the background."""
        self._thread = threading.Thread(
            target=self.send_lines, args=(lines, rate_hz, settle_s), name="instrument", daemon=True
        )
        self._thread.start()

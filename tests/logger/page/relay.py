"""A cable between browser and page that can be cut: a TCP relay of its own thread."""

from __future__ import annotations

import contextlib
import selectors
import socket
import threading
from typing import Self


class Relay:
    """Passes bytes on between its port and another one, until it is cut.

    :param to_port: on this machine
    """

    def __init__(self, to_port: int) -> None:
        self._to_port = to_port
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listening.getsockname()[1])
        self._pairs: dict[socket.socket, socket.socket] = {}
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._is_cut = False
        self.refused = 0

    def __enter__(self) -> Self:
        self._thread = threading.Thread(target=self._run, name="relay", daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self.cut()
        self._listening.close()

    def cut(self) -> None:
        """Cut every connection, and let none through."""
        with self._lock:
            self._is_cut = True
            for end in self._pairs:
                end.close()
            self._pairs.clear()

    def mend(self) -> None:
        """Let connections through again."""
        self._is_cut = False

    def _run(self) -> None:
        while not self._stop.is_set():
            with self._lock, selectors.DefaultSelector() as ready:
                for end in (self._listening, *self._pairs):
                    ready.register(end, selectors.EVENT_READ)
                for key, _ in ready.select(0.01):
                    if key.fileobj is self._listening:
                        self._accept()
                    else:
                        self._pass_on(key.fileobj)  # type: ignore[arg-type]
            self._stop.wait(0.001)

    def _accept(self) -> None:
        near, _ = self._listening.accept()
        if self._is_cut:
            self.refused += 1
            near.close()
            return
        try:
            far = socket.create_connection(("127.0.0.1", self._to_port))
        except OSError:
            near.close()
            return
        self._pairs[near], self._pairs[far] = far, near

    def _pass_on(self, end: socket.socket) -> None:
        if end not in self._pairs:
            return
        data = b""
        with contextlib.suppress(OSError):
            data = end.recv(65536)
            self._pairs[end].sendall(data)
        if not data:
            other = self._pairs.pop(end)
            self._pairs.pop(other, None)
            end.close()
            other.close()

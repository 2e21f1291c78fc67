"""One connection of a browser, with an end to everybody's patience: nobody slow or hostile is waited for."""

from __future__ import annotations

import asyncio
import socket
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

REQUEST_WITHIN_S = 5.0
"""A request is there whole by then."""

WRITTEN_WITHIN_S = 5.0
"""What was written has left us by then; a screen that is so far behind comes back and is given the newest."""

MOST_CONNECTIONS, MOST_FROM_ONE = 96, 48
"""In all, and from one address: eight viewers at one machine ask for some files each at the same time."""

LONGEST_HEAD_BYTES = 8192
HELD_BYTES = 32 * 1024
"""Held back in us for one viewer, and as much again in the system."""


class Connection(H11Protocol):
    """uvicorn's connection; it is dropped when it keeps us waiting."""

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Take a connection, unless there are too many."""
        super().connection_made(transport)
        clients = [getattr(other, "client", None) for other in self.connections]
        from_here = sum(1 for client in clients if client and self.client and client[0] == self.client[0])
        if len(clients) > MOST_CONNECTIONS or from_here > MOST_FROM_ONE:
            transport.abort()
            return
        transport.set_write_buffer_limits(high=HELD_BYTES)
        held: socket.socket | None = transport.get_extra_info("socket")
        if held is not None:
            held.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, HELD_BYTES)
        self._allow(REQUEST_WITHIN_S)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._allow(None)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take bytes; a request that comes in drops must come to its end, too."""
        super().data_received(data)
        if self.transport.is_closing():
            return
        if self.cycle is not None and not self.cycle.response_complete:
            self._allow(None)
        elif self._deadline is None:
            self._allow(REQUEST_WITHIN_S)

    def pause_writing(self) -> None:
        """Say that the viewer does not keep up."""
        super().pause_writing()
        self._allow(WRITTEN_WITHIN_S)

    def resume_writing(self) -> None:
        """Say that the viewer keeps up again."""
        super().resume_writing()
        self._allow(None)

    def _allow(self, seconds: float | None) -> None:
        """Drop the connection after so long; None: not on that account."""
        if self._deadline is not None:
            self._deadline.cancel()
        self._deadline = None if seconds is None else self.loop.call_later(seconds, self.transport.abort)

"""The page's server: within the recorder's own event loop, gone when its block is left."""

from __future__ import annotations

import asyncio
import errno
import socket
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import uvicorn

from logger.errors import BadInputError, EvencupError
from logger.page.access import Guard, new_token
from logger.page.addresses import is_everywhere, url_host, urls
from logger.page.board import Board
from logger.page.connection import LONGEST_HEAD_BYTES, Connection
from logger.page.site import site

FIRST_PORT, PORTS_TRIED = 8720, 20
LAST_WORDS_S = 1.0
"""So long viewers may take to be given the last state when the page ends."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a page is to be served.

    :param host: an address or a name of this machine; ``0.0.0.0`` for all its addresses
    :param port: None for the first free one of the usual ones
    :param certificate: PEM file, for https; with its key in the same file or in ``key``
    :param key: PEM file
    """

    host: str = "127.0.0.1"
    port: int | None = None
    certificate: Path | None = None
    key: Path | None = None


class LivePage:
    """Use it as ``async with LivePage(board, place) as page: print(page.urls)``.

    :param board: what is shown
    :param place: where it is served
    :param first_page: what is shown where no page is named
    """

    def __init__(self, board: Board, place: Place, first_page: str = "pour.html") -> None:
        self._board, self._place = board, place
        self.token = new_token()
        app = Guard(site(board, first_page), self.token, names=(url_host(place.host),))
        config = uvicorn.Config(
            app,
            http=Connection,
            ws="none",
            lifespan="off",
            interface="asgi3",
            log_config=None,
            log_level="critical",
            access_log=False,
            proxy_headers=False,
            server_header=False,
            date_header=False,
            h11_max_incomplete_event_size=LONGEST_HEAD_BYTES,
            timeout_graceful_shutdown=1,
            ssl_certfile=place.certificate,
            ssl_keyfile=place.key,
        )
        try:
            config.load()
        except OSError as error:
            raise BadInputError(
                str(place.certificate),
                f"cannot be used for https: {error.strerror or error}",
                "Give a certificate and its key as PEM files.",
            ) from error
        # It is started and shut down here, never run: signals are the recording's, and nothing polls.
        self._server = uvicorn.Server(config)
        self._server.lifespan = config.lifespan_class(config)
        self.port = 0

    @property
    def urls(self) -> tuple[str, ...]:
        """The page's addresses, the best one for a phone first."""
        scheme = "https" if self._place.certificate else "http"
        return urls(scheme, self._place.host, self.port, self.token)

    @property
    def host(self) -> str:
        """Where it is served, as it was asked for."""
        return self._place.host

    @property
    def secure(self) -> bool:
        """Whether it speaks https."""
        return self._place.certificate is not None

    @property
    def station_host(self) -> str:
        """Where a program on this machine reaches the page."""
        return "127.0.0.1" if is_everywhere(self._place.host) else self._place.host

    async def __aenter__(self) -> Self:
        """Serve.

        :raises BadInputError: when the place cannot be had
        """
        listening = _listening(self._place)
        self.port = listening.getsockname()[1]
        await self._server.startup(sockets=[listening])
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let the viewers have the last state, and close the port."""
        self._board.close()
        try:
            async with asyncio.timeout(LAST_WORDS_S):
                await self._server.shutdown()
        except TimeoutError:
            return
        finally:
            self._stop_at_once()

    def _stop_at_once(self) -> None:
        for server in self._server.servers:
            server.close()
        for connection in list(self._server.server_state.connections):
            transport = getattr(connection, "transport", None)
            if transport is not None:
                transport.abort()
        for task in self._server.server_state.tasks:
            task.cancel()


def _listening(place: Place) -> socket.socket:
    """Open the port.

    :raises BadInputError: when it cannot be had
    """
    ports = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if place.port is None else (place.port,)
    for port in ports:
        try:
            return _open_port(place.host, port)
        except OSError as error:
            if error.errno != errno.EADDRINUSE or port == ports[-1]:
                raise _refused(place, port, error) from error
    raise AssertionError("there is at least one port to try")


def _open_port(host: str, port: int) -> socket.socket:
    family, _, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    return socket.create_server(address[:2], family=family, backlog=64)


def _refused(place: Place, port: int, error: OSError) -> EvencupError:
    if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
        remedy = "Name an address of this machine, or 0.0.0.0 for all of them."
        return BadInputError(f"--page-host {place.host}", "is no address of this machine", remedy)
    if error.errno == errno.EADDRINUSE:
        return BadInputError(f"--page-port {port}", "is in use already", "Choose another, or leave it out.")
    reason = error.strerror or str(error)
    return BadInputError(
        f"--page-port {port}", f"cannot be had: {reason}", "Choose another, or leave it out."
    )

"""The pages of a board: three documents, their files, and the stream of what happens."""

from __future__ import annotations

import asyncio
import contextlib
from functools import cache
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from logger.page.board import Board, Viewer
from logger.page.feed import Position
from logger.show.figures.palette import DARK, LIGHT, css_variables

_TYPES = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}


def site(board: Board, first_page: str = "pour.html") -> Starlette:
    """Make the application that serves a board.

    :param first_page: what is shown where no page is named
    """

    async def first(_: Request) -> Response:
        return _file(first_page)

    async def bench(_: Request) -> Response:
        return _file("bench.html")

    async def pour(_: Request) -> Response:
        return _file("pour.html")

    async def asset(request: Request) -> Response:
        return _file(request.path_params["name"])

    routes = [
        Route("/", first),
        Route("/pour", pour),
        Route("/bench", bench),
        Route("/stream", Stream(board)),
        Route("/{name:str}", asset),
    ]
    return Starlette(routes=routes)


class Stream:
    """The stream of a board, as server-sent events."""

    def __init__(self, board: Board) -> None:
        self._board = board

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Let one viewer look on until he goes, or the board is closed."""
        request = Request(scope)
        if self._board.is_full:
            full = PlainTextResponse("Too many look on already.\n", 503, {"retry-after": "5"})
            await full(scope, receive, send)
            return
        said = request.query_params.get("since") or request.headers.get("last-event-id") or ""
        viewer = Viewer(self._board, request.query_params.get("station"), Position.read(said))
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(_until_gone(receive), name="until the viewer goes")
                await _send_events(viewer, send)
                raise _GoneError
        except* _GoneError:
            pass


class _GoneError(Exception):
    """Nobody looks on any more."""


async def _until_gone(receive: Any) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
    raise _GoneError


async def _send_events(viewer: Viewer, send: Any) -> None:
    headers = [(b"content-type", b"text/event-stream; charset=utf-8"), (b"x-accel-buffering", b"no")]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    async with contextlib.aclosing(viewer.events()) as events:
        async for event in events:
            await send({"type": "http.response.body", "body": event, "more_body": True})
    await send({"type": "http.response.body", "body": b""})


def _file(name: str) -> Response:
    content = _content(name)
    if content is None:
        return PlainTextResponse("There is no such page.\n", 404)
    return Response(content, media_type=_TYPES[name.rpartition(".")[2]])


@cache
def _content(name: str) -> bytes | None:
    """Read a file of the page's own; its colours are those of the figures."""
    if name == "colours.css":
        light, dark = css_variables(LIGHT), css_variables(DARK)
        return f":root {{ {light} }}\n@media (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}\n".encode()
    assets = {entry.name: entry for entry in files("logger.page").joinpath("assets").iterdir()}
    return assets[name].read_bytes() if name in assets and name.rpartition(".")[2] in _TYPES else None

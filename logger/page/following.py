"""Other recorders' feeds, followed over their own streams: what ``evencup page`` puts side by side."""

from __future__ import annotations

import asyncio
import contextlib
import json
import ssl
from collections.abc import AsyncIterator
from typing import Any

from logger.page.addresses import url_host
from logger.page.board import Board
from logger.page.feed import Feed
from logger.page.stations import Station, find_stations, forget

LOOK_EVERY_S = 1.0
SILENT_S = 4.0
"""A recorder says something each second; one that is silent for so long is called again."""

AGAIN_S = 1.0
LONGEST_LINE = 1 << 20


async def follow_all(board: Board) -> None:
    """Keep the board as the machine is: recorders come and go; until cancelled."""
    async with asyncio.TaskGroup() as group:
        running: dict[str, asyncio.Task[None]] = {}
        while True:
            for name, station in find_stations().items():
                if name not in running or running[name].done():
                    running[name] = group.create_task(_follow(board, station), name=f"station {name}")
            await asyncio.sleep(LOOK_EVERY_S)


async def _follow(board: Board, station: Station) -> None:
    """Show a recorder until it has ended."""
    feed: Feed | None = None
    try:
        while True:
            with contextlib.suppress(
                TimeoutError, asyncio.IncompleteReadError, asyncio.LimitOverrunError, ValueError
            ):
                async for kind, news in _events(station):
                    if kind == "end":
                        return
                    if kind == "message":
                        feed = feed or board.add(station.name, Feed(station.title))
                        feed.apply(news["set"], news["rows"], news["first"])
            await asyncio.sleep(AGAIN_S)
    except OSError:
        # Nobody listens there any more: it was killed, or the machine was.
        forget(station)
    finally:
        if feed is not None:
            board.remove(station.name)


async def _events(station: Station) -> AsyncIterator[tuple[str, Any]]:
    """Give the events of a recorder's stream.

    :raises OSError: when nobody listens there
    :raises TimeoutError: when it falls silent
    :raises ValueError: when it is no stream of ours
    """
    context = _unchecked() if station.secure else None
    reader, writer = await asyncio.open_connection(
        station.host, station.port, ssl=context, limit=LONGEST_LINE
    )
    try:
        host = f"{url_host(station.host)}:{station.port}"
        # By HTTP/1.0 the answer comes as it is, in no chunks, until it ends.
        writer.write(f"GET /{station.token}/stream HTTP/1.0\r\nHost: {host}\r\n\r\n".encode())
        await _head(reader)
        kind, data = "message", ""
        while line := await _line(reader):
            name, _, value = line.decode("utf-8").rstrip("\n").partition(": ")
            if name == "event":
                kind = value
            elif name == "data":
                data = value
            elif not name:
                if data:
                    yield kind, json.loads(data)
                kind, data = "message", ""
    finally:
        writer.close()


async def _head(reader: asyncio.StreamReader) -> None:
    if b" 200 " not in await _line(reader):
        raise ValueError("it lets nobody look")
    while (await _line(reader)).strip():
        pass


async def _line(reader: asyncio.StreamReader) -> bytes:
    async with asyncio.timeout(SILENT_S):
        return await reader.readline()


def _unchecked() -> ssl.SSLContext:
    """For this machine's own recorders, whose certificate is the brewer's own: the token tells who it is."""
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context

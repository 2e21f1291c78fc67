"""A page that is served by a thread of its own, for tests that look at it from outside."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import Self

from logger.guide import Cue
from logger.page.board import Board
from logger.page.feed import Feed
from logger.page.serving import LivePage, Place
from tests.logger.page.ports import free_port


class Background:
    """A board that is served while the block runs.

    :param names: of its feeds
    """

    def __init__(self, *names: str, first_page: str = "pour.html") -> None:
        self._names, self._first_page = names or ("",), first_page
        self.board = Board()
        self.url = ""

    def __enter__(self) -> Self:
        self._loop = asyncio.new_event_loop()
        self._stop, self._up = asyncio.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="page")
        self._thread.start()
        self._up.wait()
        return self

    def __exit__(self, *_: object) -> None:
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join()
        self._loop.close()

    def show(self, cue: Cue, name: str = "") -> None:
        self.do(lambda: self.board.feeds[name].show(cue))

    def do(self, what: Callable[[], object]) -> None:
        """Do something where the page is served, and wait until it is done."""
        done = threading.Event()
        self._loop.call_soon_threadsafe(lambda: (what(), done.set()))
        done.wait()

    def _run(self) -> None:
        self._loop.run_until_complete(self._serve())

    async def _serve(self) -> None:
        for name in self._names:
            self.board.add(name, Feed(name))
        async with LivePage(self.board, Place(port=free_port()), self._first_page) as page:
            self.url = page.urls[0]
            self._up.set()
            await self._stop.wait()

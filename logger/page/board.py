"""Feeds side by side, and the viewers who look at them."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator, Callable

from logger.page.feed import Feed, Position

LEAST_S = 0.025
"""Between two messages to a viewer: a screen shows no more, and a scale at 20 Hz never waits for it."""

BEAT_S = 1.0
"""So often a viewer hears from us, even when there is nothing to say: silence means that the link is gone."""

MOST_VIEWERS = 32


class Board:
    """Feeds by name; a recorder has one, called ``""``.

    :param clock: seconds, monotonic: the one that readings are stamped with
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self.closed = False
        self._feeds: dict[str, Feed] = {}
        self._viewers: set[Viewer] = set()
        self._woken_s = float("-inf")
        self._timer: asyncio.TimerHandle | None = None

    @property
    def feeds(self) -> dict[str, Feed]:
        """The feeds by name, as they are now."""
        return self._feeds

    @property
    def is_full(self) -> bool:
        """Whether no more viewers are let in."""
        return len(self._viewers) >= MOST_VIEWERS

    @property
    def watched(self) -> int:
        """How many viewers there are."""
        return len(self._viewers)

    def add(self, name: str, feed: Feed) -> Feed:
        """Show a feed."""
        feed.on_change = self.wake
        self._feeds[name] = feed
        self.wake()
        return feed

    def remove(self, name: str) -> None:
        """Show a feed no more."""
        self._feeds.pop(name).on_change = lambda: None
        self.wake()

    def wake(self) -> None:
        """Let the viewers know that there is something new: at once, or as soon as it is time again."""
        if not self._viewers or self._timer is not None:
            return
        wait_s = self._woken_s + LEAST_S - self.clock()
        if wait_s <= 0.0:
            self._wake_now()
        else:
            self._timer = asyncio.get_running_loop().call_later(wait_s, self._wake_now)

    def close(self) -> None:
        """Let every viewer have the last state and go."""
        self.closed = True
        self._wake_now()

    def enter(self, viewer: Viewer) -> None:
        """Let a viewer look on."""
        self._viewers.add(viewer)

    def leave(self, viewer: Viewer) -> None:
        """Forget a viewer."""
        self._viewers.discard(viewer)

    def _wake_now(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._woken_s = self.clock()
        for viewer in self._viewers:
            viewer.news.set()


class Viewer:
    """One who looks on, as far as he has come.

    :param only: the feed to look at; None for all
    :param since: how far he says that he has come, in that one feed
    """

    def __init__(self, board: Board, only: str | None, since: Position | None = None) -> None:
        self._board, self._only = board, only
        self._positions: dict[str, Position | None] = {only or "": since} if since else {}
        self._shown: set[str] = set()
        self.news = asyncio.Event()

    async def events(self) -> AsyncGenerator[bytes, None]:
        """Give server-sent events until the board is closed: all there is, what changes, beats."""
        self._board.enter(self)
        try:
            yield b"retry: 1000\n\n"
            while True:
                self.news.clear()
                last = self._board.closed
                if due := self._due():
                    yield due
                if last:
                    yield b"event: end\ndata: {}\n\n"
                    return
                await self._wait()
        finally:
            self._board.leave(self)

    async def _wait(self) -> None:
        try:
            async with asyncio.timeout(BEAT_S):
                await self.news.wait()
        except TimeoutError:
            return

    def _due(self) -> bytes:
        """What there is to say now; a beat where there is nothing."""
        feeds = self._board.feeds
        if self._only is not None:
            feeds = {self._only: feeds[self._only]} if self._only in feeds else {}
        sent_s = f"{self._board.clock():.4f}"
        events = [self._event(name, feed, sent_s) for name, feed in feeds.items()]
        for name in self._shown - set(feeds):
            events.append(f'event: gone\ndata: {{"station":"{name}"}}\n\n')
            self._positions.pop(name, None)
        self._shown = set(feeds)
        return ("".join(events) or f'event: beat\ndata: {{"sent_s":{sent_s}}}\n\n').encode()

    def _event(self, name: str, feed: Feed, sent_s: str) -> str:
        before = self._positions.get(name)
        text, now = feed.since(before)
        self._positions[name] = now
        if now == before:
            return f'event: beat\ndata: {{"station":"{name}","sent_s":{sent_s}}}\n\n'
        return f'id: {now}\ndata: {{"station":"{name}","sent_s":{sent_s},{text}}}\n\n'

"""Ctrl-C, a polite kill and a closed window end a recording well: it is closed, then the program goes."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import AsyncIterator


@contextlib.asynccontextmanager
async def stopped_by_signals() -> AsyncIterator[asyncio.Event]:
    """Give an event that the first signal to stop sets; a second one of its kind interrupts as usual."""
    stop, loop = asyncio.Event(), asyncio.get_running_loop()

    def first(number: int) -> None:
        stop.set()
        _remove(loop, number)

    numbers = _numbers()
    for number in numbers:
        # Where the loop cannot watch signals (Windows), Ctrl-C cancels instead, and the recorder closes too.
        with contextlib.suppress(NotImplementedError):
            loop.add_signal_handler(number, first, number)
    try:
        yield stop
    finally:
        for number in numbers:
            _remove(loop, number)


def _numbers() -> list[int]:
    numbers = [int(signal.SIGINT), int(signal.SIGTERM)]
    hangup = getattr(signal, "SIGHUP", None)
    # Who started the program with nohup wants it to outlive the window.
    if hangup is not None and signal.getsignal(hangup) is not signal.SIG_IGN:
        numbers.append(int(hangup))
    return numbers


def _remove(loop: asyncio.AbstractEventLoop, number: int) -> None:
    with contextlib.suppress(NotImplementedError):
        loop.remove_signal_handler(number)

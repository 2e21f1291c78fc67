"""Tasks that end with the block that they belong to."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from typing import Any


@contextlib.asynccontextmanager
async def ending_on(stop: asyncio.Event | None, end: Callable[[], None]) -> AsyncIterator[None]:
    """Call ``end`` as soon as ``stop`` is set, while the block runs."""
    if stop is None:
        yield
        return
    waiting = asyncio.create_task(stop.wait(), name="waiting for the end")
    waiting.add_done_callback(lambda task: None if task.cancelled() else end())
    try:
        yield
    finally:
        await cancel(waiting)


async def cancel(task: asyncio.Task[Any]) -> None:
    """Cancel a task and wait until it has ended."""
    task.cancel()
    await asyncio.wait([task])

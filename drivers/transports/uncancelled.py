"""Work on hardware that must come to its end: bounded in time whatever happens, finished when cancelled."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

T = TypeVar("T")

_AFTERWARDS_S = 3.0

_tasks: set[asyncio.Task[Any]] = set()


async def to_the_end(work: Coroutine[Any, Any, T], name: str) -> T:
    """Run work that a cancellation of the caller must not interrupt; it goes on by itself then.

    :param work: bounded in time by itself
    """
    return await asyncio.shield(_start(work, name))


async def within(limit_s: float, work: Coroutine[Any, Any, T], name: str) -> T:
    """Run work with a limit that holds also where its own clean-up hangs.

    :raises TimeoutError: when it took longer; it has been cancelled then
    """
    task = _start(work, name)
    try:
        await asyncio.wait({task}, timeout=limit_s)
        if task.done():
            return task.result()
    finally:
        if not task.done():
            task.cancel()
            await asyncio.wait({task}, timeout=_AFTERWARDS_S)
            if not task.done():
                task.cancel()
    raise TimeoutError


def _start(work: Coroutine[Any, Any, T], name: str) -> asyncio.Task[T]:
    task = asyncio.create_task(work, name=name)
    _tasks.add(task)
    task.add_done_callback(_put_away)
    return task


def _put_away(task: asyncio.Task[Any]) -> None:
    _tasks.discard(task)
    if not task.cancelled():
        task.exception()  # nobody may be left to take it

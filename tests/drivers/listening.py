"""Listening to a device that is tried: so many readings, or all until it ends."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

from drivers import Device, DeviceError, Reading


async def take(device: Device, count: int, within_s: float | None = None) -> list[Reading]:
    """Take the next readings, or as many as there are."""
    readings = []
    async with asyncio.timeout(within_s):
        async for reading in device:
            readings.append(reading)
            if len(readings) == count:
                break
    return readings


async def listen_to_the_end(
    device: Device, within_s: float | None = None
) -> tuple[list[Reading], DeviceError]:
    """Give all readings, and the error that ended them."""
    readings = []
    try:
        async with asyncio.timeout(within_s):
            async for reading in device:
                readings.append(reading)  # noqa: PERF401  # the error must not lose them
    except DeviceError as error:
        return readings, error
    raise AssertionError("it ended without an error")


async def until(happened: Callable[[], bool]) -> None:
    """Wait, not for long, for what happens in a thread or in another process."""
    async with asyncio.timeout(5):
        while not happened():  # noqa: ASYNC110  # it happens outside this process's event loop
            await asyncio.sleep(0.01)


def open_descriptors() -> int:
    """Count this process's open files; 0 where the system does not say."""
    folder = Path("/proc/self/fd")
    return len(list(folder.iterdir())) if folder.exists() else 0

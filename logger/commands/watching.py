"""Live values of one device: what it says, how often, how evenly."""

from __future__ import annotations

import asyncio
import time
from collections import deque
from itertools import pairwise
from typing import TYPE_CHECKING

from drivers.reading import Reading
from logger.commands.links import SHORT_PATIENCE, Links
from logger.commands.named_devices import device_at
from logger.commands.signals import stopped_by_signals

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from drivers import Device

SHOWN_EVERY_S = 0.2
OVER_S = 5.0


class Channel:
    """What one channel has said lately."""

    def __init__(self) -> None:
        self.last: Reading | None = None
        self.count = 0
        self._times_s: deque[float] = deque()

    def push(self, reading: Reading) -> None:
        """Take one reading."""
        self.last, self.count = reading, self.count + 1
        self._times_s.append(reading.time_s)
        while reading.time_s - self._times_s[0] > OVER_S:
            self._times_s.popleft()

    @property
    def rate_hz(self) -> float:
        """Readings a second, over the last seconds."""
        span_s = self._times_s[-1] - self._times_s[0] if self._times_s else 0.0
        return (len(self._times_s) - 1) / span_s if span_s > 0.0 else 0.0

    @property
    def jitter_s(self) -> float:
        """Standard deviation of the time between two readings, over the last seconds."""
        times = list(self._times_s)
        steps = [later - sooner for sooner, later in pairwise(times)]
        if len(steps) < 2:
            return 0.0
        mean = sum(steps) / len(steps)
        return float((sum((step - mean) ** 2 for step in steps) / (len(steps) - 1)) ** 0.5)


async def watch_device(address: str, for_s: float | None, console: Console) -> None:
    """Show a device until it has no more, the time is up, or Ctrl-C.

    :raises DeviceError: when it cannot be opened, or stays away
    """
    channels: dict[str, Channel] = {}
    async with stopped_by_signals() as stop, device_at(address, patience=SHORT_PATIENCE) as device:
        watching = asyncio.create_task(_watch(device, channels, console), name=f"watch {address}")
        stopped = asyncio.create_task(stop.wait(), name="until stopped")
        try:
            await asyncio.wait({watching, stopped}, timeout=for_s, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (watching, stopped):
                task.cancel()
            results = await asyncio.gather(watching, stopped, return_exceptions=True)
    console.print(_table(channels, getattr(device, "steps", {}), getattr(device, "battery_percent", None)))
    if isinstance(results[0], Exception):
        raise results[0]


async def _watch(device: Device, channels: dict[str, Channel], console: Console) -> None:
    from rich.live import Live

    with Live(console=console, auto_refresh=False, transient=True) as live:
        shown_s, links = 0.0, Links()
        async for reading in device:
            if news := links.push(reading):
                console.print(news, markup=False, highlight=False)
            channels.setdefault(reading.channel, Channel()).push(reading)
            if console.is_terminal and time.monotonic() - shown_s > SHOWN_EVERY_S:
                shown_s = time.monotonic()
                steps, battery = getattr(device, "steps", {}), getattr(device, "battery_percent", None)
                live.update(_table(channels, steps, battery), refresh=True)


def _table(
    channels: dict[str, Channel], steps: dict[str, float], battery_percent: int | None
) -> RenderableType:
    from rich import box
    from rich.table import Table

    table = Table("channel", "value", "status", "step", "rate", "jitter", "readings", box=box.SIMPLE)
    for name, channel in channels.items():
        reading = channel.last
        if reading is None:
            continue
        value = f"{reading.value:.2f} {reading.unit}" if reading.status.has_value else "-"
        step = f"{steps[name]:g} {reading.unit}" if name in steps else ""
        rate, jitter = f"{channel.rate_hz:.1f} /s", f"{1000.0 * channel.jitter_s:.0f} ms"
        table.add_row(name, value, reading.status.value, step, rate, jitter, str(channel.count))
    if battery_percent is not None:
        table.caption = f"battery {battery_percent} %"
    return table

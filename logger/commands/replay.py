"""``evencup replay``: the same screens, from a recording, at any speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import TargetOption, open_recording, read_target_if

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from logger.target import Target

EXAMPLE = "Example: evencup replay 2026-11-25-0730-three-pours --speed 8"


def replay(
    recording: Annotated[str, typer.Argument(metavar="RECORDING", help="A folder, or a name.")],
    speed: Annotated[str, typer.Option("--speed", help="Times as fast as it was, or max.")] = "1",
    target: TargetOption = None,
) -> None:
    """Play a recording back as if it were happening; nothing is recorded."""
    import asyncio

    from rich.console import Console

    from logger.compare import assess
    from logger.show.summary import print_summary
    from logger.target import parse_target

    opened = open_recording(recording)
    planned = read_target_if(target)
    if planned is None and opened.meta.target_text:
        planned = parse_target(opened.meta.target_text, f"{opened.path}, its target")
    console = Console()
    asyncio.run(_replay(opened.path, speed, planned, opened.weight_channel, console))
    print_summary(assess(opened, target=planned), console)


async def _replay(
    folder: Path, speed: str, target: Target | None, scale: str | None, console: Console
) -> None:
    """Follow the played-back device until it has no more to give, or Ctrl-C."""
    import asyncio
    from dataclasses import replace
    from urllib.parse import quote

    from drivers import open_device
    from logger.commands.follow import Follower
    from logger.commands.signals import stopped_by_signals
    from logger.show.live_screen import LiveScreen

    device = open_device(f"playback:{quote(str(folder))}?speed={quote(speed)}")
    async with stopped_by_signals() as stop, device:
        with LiveScreen(console) as screen:
            follower = Follower(target, screen, scale=scale, ends=False)
            origin_s: float | None = None
            async for reading in device:
                origin_s = reading.time_s if origin_s is None else origin_s
                follower.push(replace(reading, time_s=reading.time_s - origin_s))
                if stop.is_set():
                    break
            await asyncio.sleep(0)

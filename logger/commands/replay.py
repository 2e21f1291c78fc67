"""``evencup replay``: the same screens, from a recording, at any speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import TargetOption, open_recording, read_target_if

if TYPE_CHECKING:
    from pathlib import Path

    from drivers import Device
    from logger.commands.follow import Follower

EXAMPLE = "Example: evencup replay 2026-11-25-0730-three-pours --speed 8"


def replay(
    recording: Annotated[str, typer.Argument(metavar="RECORDING", help="A folder, or a name.")],
    speed: Annotated[str, typer.Option("--speed", help="Times as fast as it was, or max.")] = "1",
    target: TargetOption = None,
) -> None:
    """Play a recording back as if it were happening; nothing is recorded."""
    import asyncio

    from logger.commands.follow import Follower
    from logger.commands.steady_console import SteadyConsole
    from logger.compare import assess
    from logger.show.live_screen import LiveScreen
    from logger.show.summary import print_summary
    from logger.target import parse_target

    opened = open_recording(recording)
    planned = read_target_if(target)
    if planned is None and opened.meta.target_text:
        planned = parse_target(opened.meta.target_text, f"{opened.path}, its target")
    console = SteadyConsole()
    with LiveScreen(console) as screen:
        follower = Follower(planned, screen, scale=opened.weight_channel, ends=False)
        asyncio.run(_replay(played_back(opened.path, speed), follower))
    print_summary(assess(opened, target=planned), console)


def played_back(folder: Path, speed: str) -> Device:
    """Make the device that plays a recording back, not opened yet.

    :raises AddressError: when the speed is none
    """
    from drivers.address import Address
    from drivers.device import ChannelNames
    from drivers.playback import open_playback

    address = Address(
        f"playback:{folder}?speed={speed}", "playback", str(folder.absolute()), {"speed": speed}
    )
    return open_playback(address, ChannelNames())


async def _replay(device: Device, follower: Follower) -> None:
    """Follow the device until it has no more to give, or Ctrl-C."""
    import asyncio

    from logger.commands.signals import stopped_by_signals
    from logger.recording.ending import cancel, ending_on

    async with stopped_by_signals() as stop, device:
        following = asyncio.create_task(_follow(device, follower), name="replay")

        def end() -> None:
            following.cancel()

        try:
            async with ending_on(stop, end):
                await asyncio.wait([following])
        finally:
            await cancel(following)
        if not following.cancelled():
            following.result()
    follower.finish()


async def _follow(device: Device, follower: Follower) -> None:
    from dataclasses import replace

    origin_s: float | None = None
    async for reading in device:
        origin_s = reading.time_s if origin_s is None else origin_s
        # Rounded as the recorder rounds: live and replayed readings are the same to a listener.
        follower.push(replace(reading, time_s=round(reading.time_s - origin_s, 6)))

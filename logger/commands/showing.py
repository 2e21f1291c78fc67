"""A recording shown once more: in the terminal and on a page, steered by keys."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from drivers.address import Address
from drivers.clock import clock_s
from drivers.device import ChannelNames
from drivers.playback import open_playback
from logger.commands.follow import Follower
from logger.commands.keys import keys_to
from logger.commands.paging import feed_to_page
from logger.commands.playing import HINT, Player
from logger.commands.signals import stopped_by_signals
from logger.errors import BadInputError
from logger.recording.ending import cancel, ending_on
from logger.show.terminal.live_screen import LiveScreen

if TYPE_CHECKING:
    from rich.console import Console

    from drivers import Device
    from drivers.reading import Reading
    from logger.compare import Brew
    from logger.guide import CueListener
    from logger.page.feed import Feed
    from logger.page.serving import Place
    from logger.target import Target


def played_back(folder: Path, speed: str) -> Device:
    """Make the device that plays a recording back, not opened yet.

    :raises AddressError: when the speed is none
    """
    address = Address(
        f"playback:{folder}?speed={speed}", "playback", str(folder.absolute()), {"speed": speed}
    )
    return open_playback(address, ChannelNames())


@dataclass(frozen=True, slots=True)
class Showing:
    """A recording that is shown once more.

    :param brew: the recording, looked at as a whole
    :param target: what it is held against
    :param speed: recorded seconds per second; infinite for as fast as possible
    :param console: where to show what happens
    """

    brew: Brew
    target: Target | None
    speed: float
    console: Console

    async def show(self, place: Place | None, first_s: float, loop: int | None) -> None:
        """Show it, in the terminal and on a page, until it is over or Ctrl-C.

        :param first_s: where to begin, on the recording's time axis
        :param loop: the pour to be played again and again, from 1; None for the whole
        """
        readings = await _readings(played_back(self.brew.recording.path, "max"))
        title = self.target.title if self.target else self.brew.recording.meta.title
        async with stopped_by_signals() as stop, feed_to_page(place, title, self.console) as feeds:
            with LiveScreen(self.console, bell=not feeds) as screen:
                player = self._player(readings, screen, feeds)
                self._set(player, first_s, loop)
                playing = asyncio.create_task(self._play(player), name="replay")
                try:
                    async with ending_on(stop, lambda: _cancel(playing)):
                        await asyncio.wait([playing])
                finally:
                    await cancel(playing)
            if not playing.cancelled():
                playing.result()

    async def _play(self, player: Player) -> None:
        """Play to the end; the keys of the terminal steer."""
        ticking = asyncio.create_task(player.tick(), name="ticking")
        try:
            with keys_to(player.press) as steered:
                if steered and self.console.is_terminal:
                    self.console.print(HINT, style="dim")
                await player.play()
        finally:
            await cancel(ticking)
            player.follower.finish()
        if player.is_over:
            player.follower.conclude(self.brew)

    def _player(self, readings: list[Reading], screen: CueListener, feeds: Sequence[Feed]) -> Player:

        def follower(listeners: Sequence[CueListener], clock: Callable[[], float], number: int) -> Follower:
            channel = self.brew.recording.weight_channel
            return Follower(
                self.target,
                listeners,
                scale=channel,
                ends=False,
                boils_c=self.brew.recording.meta.boils_c,
                brew=number,
                clock=clock,
            )

        past = [feed.pass_by for feed in feeds]
        listeners = [screen, *feeds]
        pours = _pours(self.brew)
        return Player(readings, follower, listeners, pours=pours, speed=self.speed, past=past)

    def _set(self, player: Player, first_s: float, loop: int | None) -> None:
        """Begin where it was asked for."""
        pours = _pours(self.brew)
        if loop is not None:
            if loop > len(pours):
                raise BadInputError(
                    f"--loop {loop}", f"the recording has {len(pours)} pours", "Choose one of them."
                )
            player.loop_pour_at(pours[loop - 1][0])
        elif first_s > 0.0:
            player.seek(first_s)


def _cancel(task: asyncio.Task[None]) -> None:
    task.cancel()


async def _readings(device: Device) -> list[Reading]:
    """Read all readings of a recording, their times counted from the first as the recorder counted them."""
    async with device:
        readings = [reading async for reading in device]
    origin_s = readings[0].time_s if readings else 0.0
    # Rounded as the recorder rounds: live and replayed readings are the same to a listener.
    return [replace(reading, time_s=round(reading.time_s - origin_s, 6)) for reading in readings]


def _pours(brew: Brew) -> list[tuple[float, float]]:
    return [(pour.start_s, pour.end_s) for pour in brew.analysis.pours]


def first_s(brew: Brew, start: str | None) -> float:
    """Where to begin, on the recording's time axis.

    :raises BadInputError: when it is no time
    """
    if start is None:
        return 0.0

    try:
        return max((brew.analysis.start_s or 0.0) + clock_s(float(start) if ":" not in start else start), 0.0)
    except ValueError:
        raise BadInputError(f"--from {start}", "is no time", "Write minutes and seconds, as 1:30.") from None

"""A session at the bench: one brew, or brew after brew, each written down and concluded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from logger.commands.conclusion import conclude, raise_if_lost, tell_lost
from logger.commands.follow import FirstWater, Follower
from logger.commands.signals import stopped_by_signals
from logger.recording import Recorder
from logger.show.live_screen import LiveScreen

if TYPE_CHECKING:
    import asyncio

    from rich.console import Console

    from drivers import Device
    from logger.recording import Finished, LostDevice, Meta
    from logger.target import Target


@dataclass(frozen=True, slots=True)
class Session:
    """What is the same for every brew of a session.

    :param into: where recordings live
    :param meta: what is known of each brew beforehand
    :param target: what each should be, or None
    :param for_s: seconds after which a recording ends at the latest, or None
    :param console: where to show what happens
    :param scales: how many of the devices, the first ones, are scales
    """

    into: Path
    meta: Meta
    target: Target | None
    for_s: float | None
    console: Console
    scales: int = 1

    async def one(self, devices: Sequence[Device]) -> None:
        """Record one brew, from now on.

        :raises typer.Exit: with 1 when a device was lost before there was a brew; what came is kept
        """
        async with stopped_by_signals() as stop, recorder_of(devices) as recorder:
            self._say_what_is_coarse(devices)
            finished = await self._record(recorder, stop)
        if not conclude(finished, self.console) and finished.lost:
            raise typer.Exit(1)

    async def brew_after_brew(self, devices: Sequence[Device]) -> None:
        """Wait for a brew to begin, record it, and wait for the next, until stopped.

        :raises BadInputError: when a device could not be understood, before there was any brew
        :raises FailureError: when a device was lost, or had no more to give, before there was any brew
        """
        begun = 0
        told: tuple[LostDevice, ...] = ()
        async with stopped_by_signals() as stop, recorder_of(devices) as recorder:
            self._say_what_is_coarse(devices)
            while not stop.is_set():
                self.console.print("Ready for the next brew. Ctrl-C ends.", style="dim")
                if not await recorder.watch(FirstWater(), stop=stop):
                    break
                finished = await self._record(recorder, stop)
                conclude(finished, self.console, told)
                begun, told = begun + 1, finished.lost
                if finished.reason in ("devices ended", "devices lost"):
                    break
        untold = [device for device in recorder.lost if device not in told]
        if begun:
            tell_lost(untold)
            return
        raise_if_lost(untold)
        if not stop.is_set():
            raise _no_brew_began()

    def _say_what_is_coarse(self, devices: Sequence[Device]) -> None:
        """Say beforehand which scale cannot resolve what the target asks for."""
        if self.target is None:
            return
        tolerances = [self.target.tolerance, *(stage.tolerance for stage in self.target.stages)]
        finest_g = min(each.weight_g for each in tolerances)
        for device in devices[: self.scales]:
            steps: Mapping[str, float] = getattr(device, "steps", {})
            coarse = max(steps.values(), default=0.0)
            if coarse > finest_g:
                self.console.print(
                    f"{device.address} goes in steps of {coarse:g} g: too coarse for the target's "
                    f"±{finest_g:g} g. It is recorded all the same; what it cannot resolve is not called "
                    "inside.",
                    markup=False,
                    highlight=False,
                )

    async def _record(self, recorder: Recorder, stop: asyncio.Event) -> Finished:
        with LiveScreen(self.console) as screen:
            follower = Follower(self.target, screen)
            finished = await recorder.record_one(
                self.into, self.meta, listeners=[follower], for_s=self.for_s, stop=stop
            )
            follower.finish()
        return finished


def recorder_of(devices: Sequence[Device]) -> Recorder:
    """Make a recorder that also works out when readings were taken."""
    from logger.curve.sampling import sampling_times

    return Recorder(devices, sampling_times=sampling_times)


def _no_brew_began() -> Exception:
    from logger.errors import FailureError

    return FailureError(
        "evencup record --watch",
        "no brew began before the devices had no more to give",
        "To record all that they give: leave out --watch.",
    )

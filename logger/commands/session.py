"""A session at the bench: one brew, or brew after brew, each written down, guided and concluded."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from logger.commands.conclusion import conclude, raise_if_lost, tell_lost
from logger.commands.follow import FirstWater, Follower
from logger.commands.hands import keep_outcomes, read_hand
from logger.commands.named_devices import NEVER_LOST
from logger.commands.signals import stopped_by_signals
from logger.guide import CueListener, Hand, Verdict
from logger.recording import Recorder
from logger.recording.ending import cancel
from logger.show.terminal.live_screen import LiveScreen

if TYPE_CHECKING:
    from rich.console import Console

    from drivers import Device
    from logger.compare import Brew
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
    :param listeners: who is shown every cue besides the screen, between brews too
    :param hand_at: the file of the brewer's hand, or None: then nothing is learned
    :param bell: whether the terminal rings: not where a page gives the tones
    """

    into: Path
    meta: Meta
    target: Target | None
    for_s: float | None
    console: Console
    scales: int = 1
    listeners: Sequence[CueListener] = ()
    hand_at: Path | None = None
    bell: bool = True

    async def one(self, devices: Sequence[Device]) -> None:
        """Record one brew, from now on.

        :raises typer.Exit: with 1 when a device was lost before there was a brew; what came is kept
        """
        screen = self._screen()
        async with stopped_by_signals() as stop, recorder_of(devices) as recorder:
            follower = Follower(self.target, [screen, *self.listeners], **self._known(devices))
            finished = await self._record(recorder, stop, screen, follower, devices[0].paced)
        # In a thread: who looks at the page is to see the verdict, and is not kept waiting for it.
        brew = await asyncio.to_thread(conclude, finished, self.console)
        self._show_verdict(brew, follower, devices)
        if brew is None and finished.lost:
            raise typer.Exit(1)

    async def brew_after_brew(self, devices: Sequence[Device]) -> None:
        """Wait for a brew to begin, record it, and wait for the next, until stopped.

        :raises BadInputError: when a device could not be understood, before there was any brew
        :raises FailureError: when a device was lost, or had no more to give, before there was any brew
        """
        begun, screen = 0, self._screen()
        told: tuple[LostDevice, ...] = ()
        verdict: Verdict | None = None
        async with stopped_by_signals() as stop, recorder_of(devices) as recorder:
            while not stop.is_set():
                self.console.print("Ready for the next brew. Ctrl-C ends.", style="dim")
                known = self._known(devices)
                waiting = FirstWater(
                    self.target,
                    [screen, *self.listeners],
                    **known,
                    brew=begun,
                    before=verdict,
                    warned=begun > 0,
                )
                if not await self._wait(recorder, stop, screen, waiting, devices[0].paced):
                    break
                begun += 1
                listeners = [screen, *self.listeners]
                follower = Follower(self.target, listeners, **known, brew=begun, warned=True)
                finished = await self._record(recorder, stop, screen, follower, devices[0].paced)
                # In a thread: viewers are not kept waiting, and what arrives stands in the pre-roll.
                brew = await asyncio.to_thread(conclude, finished, self.console, told)
                self._show_verdict(brew, follower, devices)
                verdict, told = follower.verdict, finished.lost
                if finished.reason in ("devices ended", "devices lost"):
                    break
        untold = [device for device in recorder.lost if device not in told]
        if begun:
            tell_lost(untold)
            return
        raise_if_lost(untold)
        if not stop.is_set():
            raise _no_brew_began()

    def _screen(self) -> LiveScreen:
        return LiveScreen(self.console, bell=self.bell)

    def _known(self, devices: Sequence[Device]) -> dict[str, Any]:
        """What the guide is told before each brew: the hand as it is known by now, the place, the scale."""
        hand = Hand()
        if self.hand_at is not None:
            hand = read_hand(self.hand_at, devices[0].address)
        return {"hand": hand, "boils_c": self.meta.boils_c, "warnings": self._what_is_coarse(devices)}

    def _what_is_coarse(self, devices: Sequence[Device]) -> list[str]:
        """Say beforehand which scale cannot resolve what the target asks for."""
        if self.target is None:
            return []
        tolerances = [self.target.tolerance, *(stage.tolerance for stage in self.target.stages)]
        finest_g = min(each.weight_g for each in tolerances)
        told = []
        for device in devices[: self.scales]:
            steps: Mapping[str, float] = getattr(device, "steps", {})
            coarse = max(steps.values(), default=0.0)
            if coarse > finest_g:
                told.append(
                    f"{device.address} goes in steps of {coarse:g} g: too coarse for the target's "
                    f"±{finest_g:g} g. It is recorded all the same; what it cannot resolve is not called "
                    "inside."
                )
        return told

    async def _wait(
        self,
        recorder: Recorder,
        stop: asyncio.Event,
        screen: LiveScreen,
        waiting: FirstWater,
        speed: float,
    ) -> bool:
        async with _ticking(waiting, speed):
            with screen:
                return await recorder.watch(waiting, stop=stop)

    async def _record(
        self,
        recorder: Recorder,
        stop: asyncio.Event,
        screen: LiveScreen,
        follower: Follower,
        speed: float,
    ) -> Finished:
        async with _ticking(follower, speed):
            with screen:
                finished = await recorder.record_one(
                    self.into, self.meta, listeners=[follower], for_s=self.for_s, stop=stop
                )
                follower.finish()
        return finished

    def _show_verdict(self, brew: Brew | None, follower: Follower, devices: Sequence[Device]) -> None:
        """Show how the brew went, now that it was looked at as a whole, and learn of the hand from it."""
        if self.hand_at is not None and not _is_made_up(devices):
            keep_outcomes(self.hand_at, follower.guide.outcomes)
        follower.conclude(brew)


@contextlib.asynccontextmanager
async def _ticking(follower: Follower, speed: float) -> AsyncIterator[None]:
    """Ask the guide between the readings, too, while the block runs."""
    ticking = asyncio.create_task(follower.ticking(speed), name="between the readings")
    try:
        yield
    finally:
        await cancel(ticking)


def recorder_of(devices: Sequence[Device]) -> Recorder:
    """Make a recorder that also works out when readings were taken."""
    from logger.curve.readings.sampling import sampling_times

    return Recorder(devices, sampling_times=sampling_times)


def _is_made_up(devices: Sequence[Device]) -> bool:
    """Whether no hand hears the calls: a simulated brew, or one that is played back."""
    return any(device.address.split(":")[0] in NEVER_LOST for device in devices)


def _no_brew_began() -> Exception:
    from logger.errors import FailureError

    return FailureError(
        "evencup record --watch",
        "no brew began before the devices had no more to give",
        "To record all that they give: leave out --watch.",
    )

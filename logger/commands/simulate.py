"""``evencup simulate``: a brew that never happened, to try things on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import Into, folder_for

if TYPE_CHECKING:
    from drivers import Device
    from logger.recording import Finished, Listener
    from logger.target import Target

EXAMPLE = "Example: evencup simulate three-pours.toml --seed 3 --level hard"


def simulate(
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="The target file to brew after.")],
    seed: Annotated[int, typer.Option("--seed", help="Another number, another brew.", min=0)] = 0,
    level: Annotated[
        str, typer.Option("--level", help="How rough hand, bench and scale are: clean, easy, medium or hard.")
    ] = "medium",
    count: Annotated[
        int, typer.Option("--count", metavar="N", help="So many brews, seeds counting up.", min=1, max=1000)
    ] = 1,
    into: Into = None,
) -> None:
    """Record brews that never happened, with the physics and the faults of real ones."""
    import asyncio

    from rich.console import Console
    from rich.progress import track

    from logger.target import read_target

    planned, notices = read_target(target), Console(stderr=True)
    seeds = range(seed, seed + count)
    quiet = count == 1 or not notices.is_terminal
    for number in track(seeds, "brewing", console=notices, transient=True, disable=quiet):
        made = asyncio.run(simulated(ToSimulate(target, planned, number, level), folder_for(into)))
        typer.echo(str(made.path))


@dataclass(frozen=True, slots=True)
class ToSimulate:
    """A brew that is to be simulated.

    :param path: the target's file; the brew is simulated after what it says
    :param target: the same, as it was read
    :param level: how rough hand, bench and scale are
    :param speed: simulated seconds a second, or ``max``
    """

    path: Path
    target: Target
    seed: int
    level: str
    speed: str = "max"

    def device(self) -> Device:
        """Make the device, not opened yet.

        :raises AddressError: when level or speed are none
        """
        from drivers.address import Address
        from drivers.device import ChannelNames
        from drivers.simulated.device import open_simulated

        options = {"seed": str(self.seed), "level": self.level, "speed": self.speed}
        text = f"simulated:{self.path}?" + "&".join(f"{name}={value}" for name, value in options.items())
        return open_simulated(Address(text, "simulated", str(self.path), options), ChannelNames())

    def marks(self) -> dict[str, float]:
        """When the pump started, on the recording's axis; a brewer would have marked it."""
        from drivers import simulated as model

        brew = model.simulate(model.read_plan(self.path), self.seed, model.PRESETS[self.level])
        if brew.truth.pump_start_s is None:
            return {}
        return {"pump": round(brew.truth.pump_start_s - brew.readings[0].time_s, 3)}


async def simulated(brew: ToSimulate, into: Path, listeners: tuple[Listener, ...] = ()) -> Finished:
    """Record one simulated brew the way that any device is recorded.

    :raises AddressError: when level or speed are none
    """
    from logger.recording import Meta, Recorder

    target = brew.target
    async with Recorder([brew.device()]) as recorder:
        meta = Meta(
            title=target.title,
            coffee=target.coffee,
            dose_g=target.dose_g,
            grind=target.grind,
            notes="simulated: this brew never happened",
            target_text=target.text,
            target_name=brew.path.name,
            marks=brew.marks(),
        )
        return await recorder.record_one(into, meta, listeners=listeners)

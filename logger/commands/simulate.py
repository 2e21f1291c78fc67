"""``evencup simulate``: a brew that never happened, to try things on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import Into, folder_for

if TYPE_CHECKING:
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
        made = asyncio.run(simulated(target, planned, number, level, "max", folder_for(into)))
        typer.echo(str(made.path))


async def simulated(
    path: Path,
    target: Target,
    seed: int,
    level: str,
    speed: str,
    into: Path,
    listeners: tuple[Listener, ...] = (),
) -> Finished:
    """Record one simulated brew the way that any device is recorded.

    :param path: the target's file; the brew is simulated after what it says
    :param speed: simulated seconds a second, or ``max``
    :raises DevicesError: when level or speed are none
    """
    from urllib.parse import quote

    from drivers import open_device
    from logger.recording import Meta, Recorder

    address = f"simulated:{quote(str(path))}?seed={seed}&level={quote(level)}&speed={speed}"
    device = open_device(address)
    meta = Meta(
        title=target.title,
        coffee=target.coffee,
        dose_g=target.dose_g,
        grind=target.grind,
        notes="simulated: this brew never happened",
        target_text=target.text,
        target_name=path.name,
        marks=_pump_mark(path, seed, level),
    )
    async with Recorder([device]) as recorder:
        return await recorder.record_one(into, meta, listeners=listeners)


def _pump_mark(path: Path, seed: int, level: str) -> dict[str, float]:
    """When the pump started, on the recording's axis; a brewer would have marked it."""
    from drivers import simulated as model

    if level not in model.PRESETS:
        return {}
    brew = model.simulate(model.read_plan(path), seed, model.PRESETS[level])
    if brew.truth.pump_start_s is None:
        return {}
    return {"pump": round(brew.truth.pump_start_s - brew.readings[0].time_s, 3)}

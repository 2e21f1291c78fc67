"""``evencup demo``: the whole way on a simulated brew, in seconds, with nothing plugged in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

EXAMPLE = "Example: evencup demo"

TARGET = "four-pours.toml"
SPEED = "50"


def demo(
    into: Annotated[
        Path | None,
        typer.Option("--into", metavar="DIR", help="Where recording and page go; else your data folder."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another number, another brew.", min=0)] = 11,
) -> None:
    """Simulate a brew, record it, split it into pours, hold it against a target, and draw it."""
    import asyncio
    from importlib.resources import as_file, files

    from logger.commands.follow import Follower
    from logger.commands.options import folder_for, write_page
    from logger.commands.simulate import ToSimulate, simulated
    from logger.commands.steady_console import SteadyConsole
    from logger.compare import assess
    from logger.recording import Recording, data_folder
    from logger.show.pages.report_page import report_page
    from logger.show.terminal.live_screen import LiveScreen
    from logger.show.terminal.summary import print_summary
    from logger.target import read_target

    console, folder = SteadyConsole(), folder_for(into or data_folder().parent / "demo")
    with as_file(files("logger.target") / "demo" / TARGET) as path, LiveScreen(console) as screen:
        target = read_target(path)
        console.print(f"A brew that never happened, {SPEED} times as fast as life: {target.title}")
        follower = Follower(target, [screen], ends=False)
        brewed = ToSimulate(path, target, seed, "medium", SPEED)
        made = asyncio.run(simulated(brewed, folder, (follower,)))
        follower.finish()
    brew = assess(Recording.open(made.path))
    console.print()
    print_summary(brew, console)
    page = folder / f"{made.path.name}.html"
    write_page(page, report_page(brew))
    typer.echo(f"\nThe recording:  {made.path}")
    typer.echo(f"The report:     {page}")

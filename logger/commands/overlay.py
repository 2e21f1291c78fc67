"""``evencup overlay``: practice brews over each other on the target's curve."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from logger.commands.options import To, open_recording, page_path, write_page

EXAMPLE = "Example: evencup overlay three-pours.toml ~/practice/2026-11-* --html"


def overlay(
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="The target file.")],
    recordings: Annotated[list[str], typer.Argument(metavar="RECORDING...", help="Folders, or names.")],
    html: Annotated[bool, typer.Option("--html", help="Write a page with the curves.")] = False,
    to: To = None,
    json: Annotated[bool, typer.Option("--json", help="Print the figures as one line of JSON.")] = False,
) -> None:
    """Lay practice brews over each other on the target's curve, and say how even they are."""
    import json as json_format

    from rich.console import Console
    from rich.progress import track

    from logger.compare import assess, spread
    from logger.show.overlay_page import overlay_json, overlay_page
    from logger.show.overlay_summary import print_overlay
    from logger.target import read_target

    planned = read_target(target)
    notices = Console(stderr=True)
    names = track(recordings, "reading", console=notices, transient=True, disable=not notices.is_terminal)
    brews = [assess(open_recording(name), target=planned) for name in names]
    together = spread(brews, planned)
    if html:
        path = page_path(to, f"{target.stem}-overlay")
        write_page(path, overlay_page(brews, together, planned))
        typer.echo(str(path), err=json)
    if json:
        typer.echo(json_format.dumps(overlay_json(brews, together), allow_nan=False))
    elif not html:
        print_overlay(brews, together, Console())

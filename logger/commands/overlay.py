"""``evencup overlay``: practice brews over each other on the target's curve."""

from __future__ import annotations

import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import Figures, Into, To, page_path, write_page

if TYPE_CHECKING:
    from rich.console import Console

    from logger.compare import Brew
    from logger.target import Target

EXAMPLE = "Example: evencup overlay three-pours.toml --since 2026-11-01 --html"

_LONG_AGO = datetime.min.replace(tzinfo=UTC)

Named = Annotated[
    list[str],
    typer.Argument(
        metavar="TARGET [RECORDING...]",
        help="The target file, then folders or names; all recordings of the target where none is named.",
    ),
]


def overlay(
    named: Named,
    coffee: Annotated[
        str, typer.Option("--coffee", metavar="WORDS", help="Only brews of a coffee with these words.")
    ] = "",
    since: Annotated[str | None, typer.Option("--since", metavar="DAY", help="Not before this day.")] = None,
    until: Annotated[str | None, typer.Option("--until", metavar="DAY", help="Not after this day.")] = None,
    into: Into = None,
    html: Annotated[bool, typer.Option("--html", help="Write a page with the curves.")] = False,
    to: To = None,
    figures: Figures = None,
    json: Annotated[bool, typer.Option("--json", help="Print the figures as one line of JSON.")] = False,
) -> None:
    """Lay practice brews over each other on the target's curve, and say how even they are."""
    import json as json_format

    from rich.console import Console

    from logger.compare import spread
    from logger.show.pages.overlay_page import lay_over, overlay_json, overlay_page, pictured_figures
    from logger.show.terminal.overlay_summary import print_overlay
    from logger.target import read_target

    path = Path(named[0])
    target = read_target(path)
    brews = _assessed(_chosen(target, named[1:], into, coffee, since, until), target, Console(stderr=True))
    laid = lay_over(brews, spread(brews, target))
    if html:
        page = page_path(to, f"{path.stem}-overlay")
        write_page(page, overlay_page(laid))
        typer.echo(str(page), err=json)
    if figures:
        from logger.show.figures.pictures import write_pictures

        for picture in write_pictures(pictured_figures(laid), figures, f"{path.stem}-overlay"):
            typer.echo(str(picture), err=json)
    if json:
        typer.echo(json_format.dumps(overlay_json(laid), allow_nan=False))
    elif not (html or figures):
        print_overlay(laid, Console())


def _chosen(
    target: Target, names: Sequence[str], into: Path | None, coffee: str, since: str | None, until: str | None
) -> Sequence[str]:
    """Take the recordings that were named, else all of the target that the options leave.

    :raises BadInputError: when both are given, or nothing is found
    """
    from logger.commands.choosing import day, recordings_of
    from logger.errors import BadInputError

    if not names:
        return recordings_of(target, into, coffee, day(since, "--since"), day(until, "--until"))
    if coffee or since or until or into:
        raise BadInputError(
            "overlay",
            "recordings are named, and --coffee, --since, --until or --into would choose others",
            "Leave out the one or the other.",
        )
    return names


def _assessed(names: Sequence[str], target: Target, notices: Console) -> list[Brew]:
    """Assess recordings, in the order in which they were brewed."""
    from rich.progress import track

    from logger.commands.options import recording_path
    from logger.compare.kept import assess_kept, forget_old

    forget_old(time.time())
    shown = track(names, "reading", console=notices, transient=True, disable=not notices.is_terminal)
    brews = [assess_kept(recording_path(name), target) for name in shown]
    return sorted(brews, key=lambda brew: brew.recording.meta.started or _LONG_AGO)

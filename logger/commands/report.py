"""``evencup report``: what happened in a brew, against its target."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import (
    Figures,
    MethodOption,
    TargetOption,
    To,
    known_method,
    open_recording,
    page_path,
    read_target_if,
    write_page,
)
from logger.commands.telling import told

if TYPE_CHECKING:
    from rich.console import Console

    from logger.compare import Brew
    from logger.curve import Method
    from logger.target import Target

_LONG_AGO = datetime.min.replace(tzinfo=UTC)

EXAMPLE = "Example: evencup report 2026-11-25-0730-three-pours --html"


def report(
    recordings: Annotated[list[str], typer.Argument(metavar="RECORDING...", help="Folders, or names.")],
    target: TargetOption = None,
    method: MethodOption = None,
    html: Annotated[bool, typer.Option("--html", help="Write a page with the curves.")] = False,
    to: To = None,
    figures: Figures = None,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON for each.")] = False,
) -> None:
    """Say what happened in a brew: its pours, its events, and how it went against the target."""
    from rich.console import Console

    from logger.show.pages.report_page import curve_figure, report_page
    from logger.show.plain_data.json_line import json_line
    from logger.show.terminal.summary import print_summary

    console, held_against, brewed_as = Console(), read_target_if(target), known_method(method)
    if html:
        _one_page_each(recordings, to)
    code = shown = 0
    summed_up: list[Brew] = []
    for name in recordings:
        brew = _assessed(name, held_against, brewed_as)
        if isinstance(brew, int):
            code = max(code, brew)
            continue
        if html:
            path = page_path(to, brew.recording.name)
            write_page(path, report_page(brew))
            typer.echo(str(path), err=json)
        if figures:
            from logger.show.figures.pictures import write_pictures

            for picture in write_pictures([curve_figure(brew)], figures, brew.recording.name):
                typer.echo(str(picture), err=json)
        if json:
            typer.echo(json_line(brew))
        elif not (html or figures):
            if shown:
                console.rule()
            print_summary(brew, console)
            summed_up.append(brew)
        shown += 1
    _say_change(summed_up, console)
    if code:
        raise typer.Exit(code)


def _say_change(brews: Sequence[Brew], console: Console) -> None:
    """Say how the bed's resistance changed over brews of one target, oldest first."""
    from logger.compare.beds import bed_change
    from logger.show.terminal.text import print_words
    from logger.show.words.bed_words import change_sentence

    for alike in _of_one_target(brews):
        change = bed_change(alike)
        if change is not None:
            console.rule()
            print_words(console, change_sentence(change))


def _of_one_target(brews: Sequence[Brew]) -> list[list[Brew]]:
    """Group brews by their target, in the order in which they were brewed; those without one stand alone."""
    groups: dict[str, list[Brew]] = {}
    for brew in sorted(brews, key=lambda brew: brew.recording.meta.started or _LONG_AGO):
        if brew.comparison is not None:
            groups.setdefault(brew.comparison.target.title, []).append(brew)
    return list(groups.values())


def _one_page_each(recordings: Sequence[str], to: Path | None) -> None:
    """Refuse to write many pages into one file.

    :raises BadInputError: when a file was named for more than one recording
    """
    from logger.errors import BadInputError

    if to is not None and len(recordings) > 1 and not to.is_dir():
        raise BadInputError(
            str(to),
            f"is no folder, and the pages of {len(recordings)} recordings need one",
            "Name a folder that is there.",
        )


def _assessed(name: str, target: Target | None, method: Method | None) -> Brew | int:
    """Assess a recording; where that cannot be, say why at once, and give the code to end with.

    One damaged recording must not keep the others from being reported.
    """
    from logger.compare import assess

    try:
        return assess(open_recording(name), target=target, method=method)
    except Exception as error:
        words = told(error)
        if words is None:
            raise
        typer.echo(f"evencup: {words[0]}", err=True)
        return words[1]

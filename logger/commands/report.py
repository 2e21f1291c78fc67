"""``evencup report``: what happened in a brew, against its target."""

from __future__ import annotations

from typing import Annotated

import typer

from logger.commands.options import (
    MethodOption,
    TargetOption,
    To,
    known_method,
    open_recording,
    page_path,
    read_target_if,
    write_page,
)

EXAMPLE = "Example: evencup report 2026-11-25-0730-three-pours --html"


def report(
    recordings: Annotated[list[str], typer.Argument(metavar="RECORDING...", help="Folders, or names.")],
    target: TargetOption = None,
    method: MethodOption = None,
    html: Annotated[bool, typer.Option("--html", help="Write a page with the curves.")] = False,
    to: To = None,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON for each.")] = False,
) -> None:
    """Say what happened in a brew: its pours, its events, and how it went against the target."""
    from rich.console import Console

    from logger.compare import assess
    from logger.show.json_line import json_line
    from logger.show.report_page import report_page
    from logger.show.summary import print_summary

    console, held_against, brewed_as = Console(), read_target_if(target), known_method(method)
    for number, name in enumerate(recordings):
        brew = assess(open_recording(name), target=held_against, method=brewed_as)
        if html:
            path = page_path(to, brew.recording.name)
            write_page(path, report_page(brew))
            typer.echo(str(path), err=json)
        if json:
            typer.echo(json_line(brew))
        elif not html:
            if number:
                console.rule()
            print_summary(brew, console)

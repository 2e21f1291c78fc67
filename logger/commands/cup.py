"""``evencup cup``: strength, extraction and taste of one brew or of several side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import MethodOption, To, known_method, open_recording, page_path, write_page

if TYPE_CHECKING:
    from logger.compare import Brew

EXAMPLE = "Example: evencup cup 2026-11-25-0730-three-pours 2026-11-25-0742-three-pours --html"


def cup(
    recordings: Annotated[list[str], typer.Argument(metavar="RECORDING...", help="Folders, or names.")],
    method: MethodOption = None,
    html: Annotated[bool, typer.Option("--html", help="Write a page with the chart.")] = False,
    to: To = None,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON.")] = False,
) -> None:
    """Say what is in the cup: strength, extraction, whether a taster could tell, and how calls and cups
    agree.

    It goes by what was noted with evencup note.
    """
    import json as json_format

    from rich.console import Console

    from logger.compare import assess
    from logger.compare.cups import cups_of
    from logger.show.pages.cup_page import cups_page
    from logger.show.plain_data.cup_json import cups_json
    from logger.show.terminal.cup_summary import print_cups

    brewed_as = known_method(method)
    page = page_path(to, _page_name(recordings)) if html else None
    brews: list[Brew] = [assess(open_recording(name), method=brewed_as) for name in recordings]
    cups = cups_of(brews)
    if page is not None:
        write_page(page, cups_page(cups))
        typer.echo(str(page), err=json)
    if json:
        typer.echo(json_format.dumps(cups_json(cups), allow_nan=False))
    elif not html:
        print_cups(cups, Console())


def _page_name(recordings: list[str]) -> str:
    from pathlib import Path

    return f"{Path(recordings[0]).resolve().name}-cup" if len(recordings) == 1 else "cups"

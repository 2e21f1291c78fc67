"""``evencup list``: the recordings, newest first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from logger.commands.options import Into

if TYPE_CHECKING:
    from logger.recording import Summary

EXAMPLE = "Example: evencup list --into ~/practice"


def list_recordings(
    into: Into = None,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON for each.")] = False,
) -> None:
    """List the recordings, newest first."""
    import json as json_format

    from rich.console import Console

    from logger.recording import find
    from logger.show.terminal.recordings_table import print_recordings

    found = find(into)
    if not json:
        print_recordings(found, Console())
        return
    for summary in found:
        typer.echo(json_format.dumps(_plain(summary), allow_nan=False))


def _plain(summary: Summary) -> dict[str, Any]:
    meta = summary.meta
    return {
        "recording": summary.name,
        "path": str(summary.path),
        "title": meta.title,
        "started": meta.started.isoformat() if meta.started else None,
        "duration_s": summary.duration_s,
        "complete": meta.complete,
        "damaged": summary.damaged,
        "problem": summary.problem,
    }

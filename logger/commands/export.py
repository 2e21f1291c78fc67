"""``evencup export``: a recording as CSV or Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from logger.commands.options import open_recording

EXAMPLE = "Example: evencup export 2026-11-25-0730-three-pours brew.parquet"


def export(
    recording: Annotated[str, typer.Argument(metavar="RECORDING", help="A folder, or a name.")],
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Ends in .csv or .parquet.")],
    wide: Annotated[
        bool, typer.Option("--wide", help="One column for each channel; else one reading in each row.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there.")] = False,
    salvage: Annotated[
        bool, typer.Option("--salvage", help="Of a damaged recording, take the lines that can be read.")
    ] = False,
) -> None:
    """Write a recording as CSV or Parquet."""
    from logger.recording import export_recording

    opened = open_recording(recording, salvage=salvage)
    for problem in opened.problems:
        typer.echo(f"{opened.name}: {problem}", err=True)
    typer.echo(str(export_recording(opened, file, wide=wide, force=force)))

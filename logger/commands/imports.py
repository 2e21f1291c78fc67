"""``evencup import``: a recording out of any CSV with times and weights."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from logger.commands.options import Into, folder_for

EXAMPLE = "Example: evencup import scale-log.csv --unit kg"


TimeColumn = Annotated[
    str | None, typer.Option("--time-column", metavar="NAME", help="Its heading, or number from 1.")
]
WeightColumn = Annotated[
    str | None, typer.Option("--weight-column", metavar="NAME", help="Its heading, or number from 1.")
]
TemperatureColumns = Annotated[
    list[str] | None,
    typer.Option("--temperature-column", metavar="NAME", help="The same; may be given again."),
]
Unit = Annotated[
    str | None, typer.Option("--unit", help="Of the weight: g, kg, mg, oz or lb; else guessed, or g.")
]
TimeUnit = Annotated[
    str | None, typer.Option("--time-unit", help="Of times that are numbers: s, ms, us, ns, min or h.")
]
Delimiter = Annotated[
    str | None, typer.Option("--delimiter", help="Between cells: comma, semicolon, tab, or a character.")
]
Title = Annotated[str | None, typer.Option("--title", help="Of the recording; else the file's name.")]


def import_file(
    files: Annotated[list[Path], typer.Argument(metavar="CSV...", help="Files with times and weights.")],
    into: Into = None,
    time_column: TimeColumn = None,
    weight_column: WeightColumn = None,
    temperature_column: TemperatureColumns = None,
    unit: Unit = None,
    time_unit: TimeUnit = None,
    delimiter: Delimiter = None,
    title: Title = None,
) -> None:
    """Make recordings of CSV files; columns, units and separators are guessed, or given."""
    from rich.console import Console

    from logger.recording import import_csv

    notices = Console(stderr=True, highlight=False)
    for file in files:
        with notices.status(f"reading {file.name}"):
            done = import_csv(
                file,
                folder_for(into),
                time_column=time_column,
                weight_column=weight_column,
                temperature_columns=temperature_column,
                unit=unit,
                time_unit=time_unit,
                delimiter=delimiter,
                title=title,
            )
        guessed = "; ".join(f"{name}: {value}" for name, value in done.understood.items())
        notices.print(f"{file.name}: {done.rows} readings. Read as {guessed}.", markup=False)
        if done.skipped:
            notices.print(
                f"{file.name}: {done.skipped} rows without a value left out, the first in line "
                f"{done.first_skipped_line}.",
                markup=False,
            )
        typer.echo(str(done.path))

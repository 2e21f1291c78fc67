"""``evencup compare``: two practice sets against each other, as two recipes, two people or two scales."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import recording_path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logger.compare import Brew
    from logger.target import Target

EXAMPLE = "Example: evencup compare four-pours.toml tuesday --with wednesday"


def compare(
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="The target file.")],
    recordings: Annotated[
        list[str], typer.Argument(metavar="SET...", help="The first set: recordings, or folders of them.")
    ],
    against: Annotated[
        list[str],
        typer.Option("--with", metavar="SET", help="The second set: a recording or a folder; may repeat."),
    ],
    other_target: Annotated[
        Path | None,
        typer.Option("--with-target", metavar="TARGET", help="The second set's target, where it is another."),
    ] = None,
    names: Annotated[
        tuple[str, str] | None, typer.Option("--names", metavar="FIRST SECOND", help="What to call the sets.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the figures as one line of JSON.")] = False,
) -> None:
    """Say in which pours two practice sets differ beyond chance, and by how much."""
    import json as json_format

    from rich.console import Console

    from logger.compare.practice import contrast, to_json
    from logger.show.terminal.contrast_summary import print_contrast
    from logger.target import read_target

    first_target = read_target(target)
    second_target = read_target(other_target) if other_target else None
    called = names or (_name_of(recordings, "first"), _name_of(against, "second"))
    two = contrast(
        assessed(recordings, first_target),
        assessed(against, second_target or first_target),
        first_target,
        names=called if called[0] != called[1] else ("first", "second"),
        second_target=second_target,
    )
    if json:
        typer.echo(json_format.dumps(to_json(two), allow_nan=False))
    else:
        print_contrast(two, Console())


def assessed(names: Sequence[str], target: Target) -> list[Brew]:
    """Hold every recording against a target; a folder stands for all recordings in it.

    :raises BadInputError: when one cannot be opened, or a folder holds none
    """
    from logger.commands.choosing import recordings_in
    from logger.compare.kept import assess_kept

    return [assess_kept(recording_path(one), target) for name in names for one in recordings_in(name)]


def _name_of(names: Sequence[str], otherwise: str) -> str:
    return Path(names[0]).name if len(names) == 1 and Path(names[0]).name else otherwise

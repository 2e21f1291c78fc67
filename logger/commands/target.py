"""``evencup target``: check, scale, draw and learn targets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import Altitude, MethodOption, boils_at_venue_c, known_method, open_recording

if TYPE_CHECKING:
    from logger.target import Target

app = typer.Typer(
    help="Check, scale, draw or learn a target.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)

TargetFile = Annotated[Path, typer.Argument(metavar="TARGET", help="The target file.")]
Output = Annotated[
    Path | None, typer.Option("--to", metavar="FILE", help="Write it there; else it is printed.")
]
_ASCII = str.maketrans("●░│└─", "*:|+-")
"""The drawing's characters where the terminal takes ASCII alone."""

Force = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]


@app.command(epilog="Example: evencup target check three-pours.toml")
def check(
    files: Annotated[list[Path], typer.Argument(metavar="TARGET...", help="Target files.")],
    altitude_m: Altitude = None,
) -> None:
    """Name file, line and field of every mistake, and of what deserves a second look."""
    from logger.target import TargetError, check_at_venue, check_target, read_target

    boils_c = boils_at_venue_c(altitude_m)
    mistakes: list[str] = []
    for file in files:
        try:
            target = read_target(file)
        except TargetError as error:
            mistakes += [str(mistake) for mistake in error.mistakes]
            continue
        for remark in check_target(target, str(file)):
            typer.echo(f"{remark} (It can be brewed all the same.)")
        for remark in check_at_venue(target, boils_c, str(file)) if boils_c is not None else ():
            typer.echo(str(remark))
        typer.echo(f"{file}: {target.title}: {target.dose_g:g} g to {target.total_g:g} g, in order")
    for mistake in mistakes:
        typer.echo(mistake, err=True)
    if mistakes:
        raise typer.Exit(2)


@app.command(epilog="Example: evencup target scale three-pours.toml 18 --to bigger.toml")
def scale(
    target: TargetFile,
    dose_g: Annotated[float, typer.Argument(metavar="DOSE", help="The new dose, g.")],
    to: Output = None,
    force: Force = False,
) -> None:
    """Scale a target to another dose; the ratio and the times stay."""
    from logger.target import read_target, scale_target

    _give(scale_target(read_target(target), dose_g), to, force=force)


@app.command(epilog="Example: evencup target draw three-pours.toml")
def draw(target: TargetFile) -> None:
    """Draw a target in the terminal: its curve and its stages."""
    from rich.console import Console

    from logger.show.terminal.text import is_plain, said
    from logger.target import draw_target, read_target

    drawing = draw_target(read_target(target))
    if is_plain(Console()):
        drawing = "\n".join(said(line, plain=True) for line in drawing.translate(_ASCII).splitlines())
    typer.echo(drawing)


@app.command(epilog="Example: evencup target learn tuesday --tolerances-from tuesday --to best.toml")
def learn(
    recordings: Annotated[
        list[str],
        typer.Argument(metavar="RECORDING...", help="One; of several, or a folder of them, the best liked."),
    ],
    dose_g: Annotated[
        float | None, typer.Option("--dose", metavar="G", help="Dry coffee, g; else as recorded.")
    ] = None,
    title: Annotated[str | None, typer.Option("--title", help="Of the target; else the recording's.")] = None,
    method: MethodOption = None,
    tolerances_from: Annotated[
        list[str] | None,
        typer.Option(
            "--tolerances-from",
            metavar="SET",
            help="Propose tolerances that you hold, from these brews: a recording or a folder; may repeat.",
        ),
    ] = None,
    to: Output = None,
    force: Force = False,
) -> None:
    """Make a target of a brew that was good: of several, the one that its tasters liked best."""
    from logger.commands.choosing import liked_best, recordings_in
    from logger.compare import assess
    from logger.errors import BadInputError
    from logger.target import learn_target, write_target

    chosen, *others = [one for name in recordings for one in recordings_in(name)]
    if others:
        chosen, why = liked_best([chosen, *others])
        for words in why:
            typer.echo(words, err=True)
    opened = open_recording(chosen)
    brew = assess(opened, method=known_method(method))
    dose = dose_g or opened.meta.dose_g or (brew.comparison.target.dose_g if brew.comparison else None)
    if dose is None:
        raise BadInputError(str(opened.path), "it does not say how much coffee was used", "Say --dose 15.")
    learned = learn_target(brew.analysis, title=title or opened.meta.title or opened.name, dose_g=dose)
    if tolerances_from:
        learned = _with_tolerances(learned, tolerances_from)
    _give(write_target(learned), to, force=force)


def _with_tolerances(learned: Target, names: list[str]) -> Target:
    """Give a target the tolerances that its brewer holds, and say on stderr what they rest on."""
    from logger.commands.compare import assessed
    from logger.compare import study
    from logger.compare.practice.proposing import proposal_words, proposed_tolerances
    from logger.target import parse_target, write_target

    practice = study(assessed(names, learned), learned)
    proposed = proposed_tolerances(practice)
    for words in proposal_words(practice):
        typer.echo(words, err=True)
    return parse_target(write_target(proposed), "the target with the tolerances from these brews")


def _give(text: str, to: Path | None, *, force: bool) -> None:
    """Print a target, or write it to a file that is not there yet."""
    from logger.errors import BadInputError
    from logger.recording.disk import replacing

    if to is None:
        typer.echo(text, nl=False)
        return
    if to.exists() and not force:
        raise BadInputError(str(to), "exists already", "Choose another name, or say --force.")
    if not to.parent.is_dir():
        raise BadInputError(str(to.parent), "is no folder", "Make it first, or choose another.")
    with replacing(to) as part:
        part.write_text(text, encoding="utf-8", newline="\n")
    typer.echo(str(to))

"""The command ``evencup``: every command of it, and the one place where an error becomes words and a code."""

from __future__ import annotations

import contextlib
import os
import sys
from typing import Annotated

import typer

from logger.commands import (
    compare,
    cup,
    demo,
    devices,
    export,
    imports,
    note,
    overlay,
    record,
    recordings,
    replay,
    report,
    simulate,
    stations,
    target,
    water,
)
from logger.commands.telling import FAILURE, INTERRUPTED, is_output_refused, told

app = typer.Typer(
    name="evencup",
    help="Log the scale and the thermometer on the bench, split the brew into pours, hold each against a "
    "target, and see how even the cups are.",
    epilog="Begin with: evencup demo",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.add_typer(devices.app, name="devices")
app.command("record", epilog=record.EXAMPLE)(record.record)
app.command("replay", epilog=replay.EXAMPLE)(replay.replay)
app.command("page", epilog=stations.EXAMPLE)(stations.page)
app.command("report", epilog=report.EXAMPLE)(report.report)
app.command("note", epilog=note.EXAMPLE)(note.note)
app.command("cup", epilog=cup.EXAMPLE)(cup.cup)
app.command("overlay", epilog=overlay.EXAMPLE)(overlay.overlay)
app.command("compare", epilog=compare.EXAMPLE)(compare.compare)
app.command("import", epilog=imports.EXAMPLE)(imports.import_file)
app.command("export", epilog=export.EXAMPLE)(export.export)
app.command("list", epilog=recordings.EXAMPLE)(recordings.list_recordings)
app.add_typer(target.app, name="target")
app.command("water", epilog=water.EXAMPLE)(water.water)
app.command("simulate", epilog=simulate.EXAMPLE)(simulate.simulate)
app.command("demo", epilog=demo.EXAMPLE)(demo.demo)


def _version(wanted: bool) -> None:
    if wanted:
        from logger.version import VERSION

        typer.echo(f"evencup {VERSION}")
        raise typer.Exit


@app.callback()
def _everywhere(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line; errors that a person can do something about become one message and a code."""
    try:
        _run()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        # Whoever read our output has seen enough.
        sys.stderr.close()
        sys.exit(FAILURE)
    except Exception as error:
        words = told(error)
        if words is None:
            raise
        if is_output_refused(error):
            _give_up_output()
        typer.echo(f"evencup: {words[0]}", err=True)
        sys.exit(words[1])


def _run() -> None:
    try:
        app(prog_name=app.info.name)
    except SystemExit:
        # What is still held back is written now, where a refusal can be told; later nobody would catch it.
        if sys.stdout is not None:
            sys.stdout.flush()
        raise


def _give_up_output() -> None:
    """Let what could not be written go nowhere, so that Python does not try it once more at its end."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


if __name__ == "__main__":
    main()

"""The command ``evencup``: every command of it, and the one place where an error becomes words and a code."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from logger.commands import (
    demo,
    devices,
    export,
    imports,
    overlay,
    record,
    recordings,
    replay,
    report,
    simulate,
    target,
)

BAD_INPUT, FAILURE, INTERRUPTED = 2, 1, 130

_UNUSABLE = (FileNotFoundError, IsADirectoryError, NotADirectoryError, PermissionError)

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
app.command("report", epilog=report.EXAMPLE)(report.report)
app.command("overlay", epilog=overlay.EXAMPLE)(overlay.overlay)
app.command("import", epilog=imports.EXAMPLE)(imports.import_file)
app.command("export", epilog=export.EXAMPLE)(export.export)
app.command("list", epilog=recordings.EXAMPLE)(recordings.list_recordings)
app.add_typer(target.app, name="target")
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
        app(prog_name=app.info.name)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        # Whoever read our output has seen enough.
        sys.stderr.close()
        sys.exit(FAILURE)
    except Exception as error:
        told = _told(error)
        if told is None:
            raise
        typer.echo(f"evencup: {told[0]}", err=True)
        sys.exit(told[1])


def _told(error: Exception) -> tuple[str, int] | None:
    """The message and the code of an error that is meant for the user, None for a fault of the program."""
    from drivers.errors import DeviceError
    from logger.errors import EvencupError

    if isinstance(error, EvencupError | DeviceError):
        return str(error), BAD_INPUT if error.is_bad_input else FAILURE
    if isinstance(error, OSError) and error.filename is not None:
        # A file or folder that was named, looked at where nobody expected it to be refused.
        told = f"{error.filename}: {error.strerror}. Check its name, and that you may use it."
        return told, BAD_INPUT if isinstance(error, _UNUSABLE) else FAILURE
    return None


if __name__ == "__main__":
    main()

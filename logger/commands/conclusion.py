"""What is said when a recording is over: how it ended, what was in it, and where it is."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from logger.compare import Brew
    from logger.errors import FailureError
    from logger.recording import Finished, LostDevice
    from logger.recording.take import Reason

_ENDED: dict[Reason, str] = {
    "ended by itself": "Ended by itself",
    "time is up": "Ended because the time was up",
    "stopped": "Ended because it was stopped",
    "devices ended": "Ended because the devices had no more to give",
    "devices lost": "Ended because the devices were lost",
}


def conclude(
    finished: Finished,
    console: Console,
    told: Collection[LostDevice] = (),
) -> Brew | None:
    """Say how a recording ended, what was in it, and where it is; the path is the last line.

    :param told: devices whose loss was told with an earlier recording
    :returns: the brew, if there is one in it
    :raises BadInputError: when nothing was recorded because a device could not be understood
    :raises FailureError: when nothing was recorded for another reason
    """
    from logger.compare.kept import assess_and_keep
    from logger.recording import Recording
    from logger.show.terminal.summary import print_summary

    if not any(finished.counts.values()):
        _remove_empty(finished.path)
        raise_if_lost(finished.lost)
        raise _nothing_arrived(finished.reason)
    tell_lost([lost for lost in finished.lost if lost not in told])
    recording = Recording.open(finished.path)
    weighed = recording.weight_channel is not None
    brew = assess_and_keep(recording) if weighed else None
    if brew is not None:
        print_summary(brew, console)
    console.print(how_it_ended(finished), markup=False, highlight=False, soft_wrap=True)
    typer.echo(str(finished.path))
    return brew if brew is not None and brew.analysis.pours else None


def how_it_ended(finished: Finished) -> str:
    """Say in one sentence why a recording ended and how many readings came."""
    counted = [
        f"{count} {'reading' if count == 1 else 'readings'} of {channel}"
        for channel, count in finished.counts.items()
    ]
    return f"{_ENDED[finished.reason]}: {', '.join(counted)}."


def tell_lost(lost: Sequence[LostDevice]) -> None:
    """Say which devices were lost, beside what went well."""
    for device in lost:
        typer.echo(f"evencup: {device.message}", err=True)


def raise_if_lost(lost: Sequence[LostDevice]) -> None:
    """Turn lost devices into one error.

    :raises BadInputError: when none of them could have worked as it was asked for
    :raises FailureError: when one broke
    """
    from logger.errors import BadInputError, FailureError

    if not lost:
        return
    kind = BadInputError if all(device.is_bad_input for device in lost) else FailureError
    raise kind.told("\n  ".join(device.message for device in lost))


def _nothing_arrived(reason: str) -> FailureError:
    from logger.errors import FailureError

    return FailureError(
        "evencup record", f"nothing arrived from any device ({reason})", "Look with: evencup devices"
    )


def _remove_empty(folder: Path) -> None:
    """Take away the folder of a recording in which there is nothing."""
    for file in folder.iterdir():
        file.unlink()
    folder.rmdir()

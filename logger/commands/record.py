"""``evencup record``: write down a brew, or brew after brew."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import Coffee, Dose, Grind, Into, Notes, folder_for

if TYPE_CHECKING:
    import asyncio
    from collections.abc import Sequence

    from rich.console import Console

    from drivers import Device
    from logger.errors import FailureError
    from logger.recording import Finished, LostDevice, Meta, Recorder
    from logger.target import Target

EXAMPLE = (
    "Example: evencup record three-pours.toml --scale 'serial:/dev/ttyUSB0?baud=9600' "
    "--thermometer kettle=serial:/dev/ttyACM0?pattern=temperature"
)

Scales = Annotated[
    list[str] | None,
    typer.Option(
        "--scale", metavar="[NAME=]ADDRESS", help="A scale; may be given again. See: evencup devices"
    ),
]
Thermometers = Annotated[
    list[str] | None,
    typer.Option("--thermometer", metavar="[NAME=]ADDRESS", help="A thermometer; may be given again."),
]


def record(
    target: Annotated[
        Path | None, typer.Argument(metavar="[TARGET]", help="What the brew should be: a target file.")
    ] = None,
    scale: Scales = None,
    thermometer: Thermometers = None,
    into: Into = None,
    for_s: Annotated[
        float | None, typer.Option("--for", metavar="SECONDS", help="Stop then at the latest.", min=1.0)
    ] = None,
    watch: Annotated[bool, typer.Option("--watch", help="Wait for the next brew after each.")] = False,
    title: Annotated[str, typer.Option("--title", help="Of the recording; else the target's.")] = "",
    coffee: Coffee = "",
    dose_g: Dose = None,
    grind: Grind = "",
    notes: Notes = "",
) -> None:
    """Record a brew. It begins and ends by itself: there is nothing to press. Ctrl-C ends it well, too."""
    import asyncio

    from rich.console import Console

    from logger.errors import BadInputError
    from logger.recording import Meta
    from logger.target import read_target

    planned = read_target(target) if target else None
    devices = named_devices(scale or (), thermometer or ())
    if not scale:
        raise BadInputError(
            "evencup record",
            "no scale was named",
            "Say --scale ADDRESS; evencup devices lists what is there.",
        )
    meta = Meta(
        title=title or (planned.title if planned else ""),
        coffee=coffee or (planned.coffee if planned else ""),
        dose_g=dose_g or (planned.dose_g if planned else None),
        grind=grind or (planned.grind if planned else ""),
        notes=notes or (planned.notes if planned else ""),
        target_text=planned.text if planned else "",
        target_name=target.name if target else "",
    )
    asyncio.run(_record(devices, folder_for(into), meta, planned, for_s, Console(), watch=watch))


def named_devices(scales: list[str] | tuple[()], thermometers: list[str] | tuple[()]) -> list[Device]:
    """Make the devices, not opened yet; the channels get the names that were given, or ordinary ones.

    :raises BadInputError: when a name is none or is given twice
    :raises AddressError: when an address cannot be understood
    """
    from drivers import ChannelNames, open_device
    from logger.errors import BadInputError

    devices, taken = [], set[str]()
    for option, texts, usual in (
        ("--scale", scales, "scale"),
        ("--thermometer", thermometers, "thermometer"),
    ):
        for text in texts:
            given, address = split_name(text)
            name = given or _free(usual, taken)
            if name in taken:
                raise BadInputError(f"{option} {text}", f"{name!r} is taken already", "Choose another name.")
            taken.add(name)
            names = ChannelNames(weight=name) if option == "--scale" else ChannelNames(temperature=name)
            devices.append(open_device(address, names))
    return devices


def split_name(text: str) -> tuple[str | None, str]:
    """Take ``NAME=ADDRESS`` apart; an address may hold ``=`` itself, but then a colon comes first.

    :raises BadInputError: when the name cannot be one
    """
    from drivers.reading import is_channel_name
    from logger.errors import BadInputError

    name, equals, address = text.partition("=")
    if not equals or ":" in name:
        return None, text
    if not is_channel_name(name):
        raise BadInputError(
            text, f"{name!r} cannot be a channel's name", "Use letters, digits, - and _, at most 32."
        )
    return name, address


def _free(usual: str, taken: set[str]) -> str:
    number = 1
    while (name := usual if number == 1 else f"{usual}{number}") in taken:
        number += 1
    return name


async def _record(
    devices: list[Device],
    into: Path,
    meta: Meta,
    target: Target | None,
    for_s: float | None,
    console: Console,
    *,
    watch: bool,
) -> None:
    """Record one brew, or brew after brew until it is stopped."""
    from logger.commands.follow import FirstWater
    from logger.commands.signals import stopped_by_signals
    from logger.recording import Recorder

    async with stopped_by_signals() as stop, Recorder(devices) as recorder:
        if not watch:
            conclude(await _one(recorder, into, meta, target, for_s, stop, console), console)
            return
        while True:
            console.print("Ready for the next brew. Ctrl-C ends.", style="dim")
            if not await recorder.watch(FirstWater(), stop=stop):
                break
            conclude(await _one(recorder, into, meta, target, for_s, stop, console), console)
        raise_if_lost(recorder.lost)


async def _one(
    recorder: Recorder,
    into: Path,
    meta: Meta,
    target: Target | None,
    for_s: float | None,
    stop: asyncio.Event,
    console: Console,
) -> Finished:
    from logger.commands.follow import Follower
    from logger.show.live_screen import LiveScreen

    with LiveScreen(console) as screen:
        return await recorder.record_one(
            into, meta, listeners=[Follower(target, screen)], for_s=for_s, stop=stop
        )


def conclude(finished: Finished, console: Console) -> None:
    """Say how a recording ended, what was in it, and where it is.

    :raises BadInputError: when nothing was recorded because a device could not be understood
    :raises FailureError: when nothing was recorded for another reason
    """
    from logger.compare import assess
    from logger.recording import Recording
    from logger.show.summary import print_summary

    if not any(finished.counts.values()):
        _remove_empty(finished.path)
        raise_if_lost(finished.lost)
        raise _nothing_arrived(finished.reason)
    for lost in finished.lost:
        typer.echo(f"evencup: {lost.message}", err=True)
    recording = Recording.open(finished.path)
    if recording.weight_channel is not None:
        print_summary(assess(recording), console)
    counted = ", ".join(f"{count} of {channel}" for channel, count in finished.counts.items())
    console.print(f"The recording {finished.reason}: {counted}.", markup=False, highlight=False)
    typer.echo(str(finished.path))


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

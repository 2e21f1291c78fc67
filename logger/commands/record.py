"""``evencup record``: write down a brew, or brew after brew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.hands import USUAL
from logger.commands.options import Coffee, Dose, Grind, Into, Notes, folder_for
from logger.commands.paging import (
    PageAsked,
    PageCertificate,
    PageHost,
    PageKey,
    PageOption,
    PagePort,
    feed_to_page,
)

if TYPE_CHECKING:
    from drivers import Device
    from logger.commands.session import Session
    from logger.errors import BadInputError
    from logger.page.serving import Place

EXAMPLE = (
    "Example: evencup record three-pours.toml --scale 'serial:/dev/ttyUSB0?baud=9600' "
    "--thermometer 'kettle=serial:/dev/ttyACM0?pattern=temperature'"
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

PatienceSeconds = Annotated[
    float,
    typer.Option(
        "--patience", metavar="SECONDS", help="How long a lost device is waited for.", min=0.0, max=86400.0
    ),
]


def record(
    target: Annotated[
        Path | None, typer.Argument(metavar="TARGET", help="What the brew should be: a target file.")
    ] = None,
    scale: Scales = None,
    thermometer: Thermometers = None,
    into: Into = None,
    for_s: Annotated[
        float | None, typer.Option("--for", metavar="SECONDS", help="Stop then at the latest.", min=1.0)
    ] = None,
    patience_s: PatienceSeconds = 60.0,
    brewer: Annotated[
        str, typer.Option("--brewer", help="Whose hand it is: how long it takes to stop is learned for each.")
    ] = USUAL,
    watch: Annotated[bool, typer.Option("--watch", help="Wait for the next brew after each.")] = False,
    title: Annotated[str, typer.Option("--title", help="Of the recording; else the target's.")] = "",
    coffee: Coffee = "",
    dose_g: Dose = None,
    grind: Grind = "",
    notes: Notes = "",
    page: PageOption = False,
    page_host: PageHost = None,
    page_port: PagePort = None,
    page_cert: PageCertificate = None,
    page_key: PageKey = None,
) -> None:
    """Record a brew. It begins and ends by itself: there is nothing to press. Ctrl-C ends it well, too."""
    import asyncio

    from drivers.supervised import Patience
    from logger.commands.hands import hand_file
    from logger.commands.named_devices import named_devices
    from logger.commands.session import Session
    from logger.commands.steady_console import SteadyConsole
    from logger.cup.settings import read_settings
    from logger.recording import Meta
    from logger.target import read_target

    if not scale:
        raise _no_scale()
    planned = read_target(target) if target else None
    devices = named_devices(scale, thermometer or (), Patience(give_up_s=patience_s))
    meta = Meta(
        title=title or (planned.title if planned else ""),
        coffee=coffee or (planned.coffee if planned else ""),
        dose_g=dose_g or (planned.dose_g if planned else None),
        grind=grind or (planned.grind if planned else ""),
        notes=notes or (planned.notes if planned else ""),
        target_text=planned.text if planned else "",
        target_name=target.name if target else "",
        boils_c=read_settings().boils_c,
    )
    session = Session(
        folder_for(into),
        meta,
        planned,
        for_s,
        SteadyConsole(),
        len(scale),
        hand_at=hand_file(brewer) if planned else None,
    )
    place = PageAsked(page, page_host, page_port, page_cert, page_key).place
    asyncio.run(_recorded(session, devices, watch, place))


async def _recorded(session: Session, devices: Sequence[Device], watch: bool, place: Place | None) -> None:
    """Record one brew, or brew after brew, and show it on a page where one was asked for."""
    async with feed_to_page(place, session.meta.title, session.console) as feeds:
        shown = replace(session, listeners=feeds, bell=not feeds)
        await (shown.brew_after_brew(devices) if watch else shown.one(devices))


def _no_scale() -> BadInputError:
    from logger.errors import BadInputError

    return BadInputError(
        "evencup record", "no scale was named", "Say --scale ADDRESS; evencup devices lists what is there."
    )

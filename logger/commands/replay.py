"""``evencup replay``: the same screens, from a recording, at any speed."""

from __future__ import annotations

from typing import Annotated

import typer

from logger.commands.options import TargetOption, open_recording, read_target_if
from logger.commands.paging import (
    PageAsked,
    PageCertificate,
    PageHost,
    PageKey,
    PageOption,
    PagePort,
)

EXAMPLE = "Example: evencup replay 2026-11-25-0730-three-pours --speed 8 --page"


def replay(
    recording: Annotated[str, typer.Argument(metavar="RECORDING", help="A folder, or a name.")],
    speed: Annotated[
        str, typer.Option("--speed", help="Times as fast as it was, or max; 0.25 to 64 can be followed.")
    ] = "1",
    target: TargetOption = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="TIME", help="Begin there: 1:30 from the first water.")
    ] = None,
    loop: Annotated[
        int | None, typer.Option("--loop", metavar="POUR", help="Play that pour again and again.", min=1)
    ] = None,
    page: PageOption = False,
    page_host: PageHost = None,
    page_port: PagePort = None,
    page_cert: PageCertificate = None,
    page_key: PageKey = None,
) -> None:
    """Play a recording back as if it were happening; nothing is recorded.

    In a terminal: space pauses, arrows go 5 s back and on, faster and slower, p and n go to the pour before
    and the next, l plays a pour again and again, q ends.
    """
    import asyncio

    from logger.commands.showing import Showing, first_s, played_back
    from logger.commands.steady_console import SteadyConsole
    from logger.compare import assess
    from logger.show.terminal.summary import print_summary
    from logger.target import parse_target

    opened = open_recording(recording)
    planned = read_target_if(target)
    if planned is None and opened.meta.target_text:
        planned = parse_target(opened.meta.target_text, f"{opened.path}, its target")
    place = PageAsked(page, page_host, page_port, page_cert, page_key).place
    brew, console = assess(opened, target=planned), SteadyConsole()
    showing = Showing(brew, planned, played_back(opened.path, speed).paced, console)
    asyncio.run(showing.show(place, first_s(brew, start), loop))
    print_summary(brew, console)

"""``evencup page``: every recorder on this machine, side by side, to be looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.commands.paging import PageAsked, PageCertificate, PageHost, PageKey, PagePort, stations_page

if TYPE_CHECKING:
    from rich.console import Console

    from logger.page.serving import Place

EXAMPLE = "Example: evencup page --page-host 0.0.0.0"


def page(
    page_host: PageHost = None,
    page_port: PagePort = None,
    page_cert: PageCertificate = None,
    page_key: PageKey = None,
) -> None:
    """Show every recorder that runs with --page on this machine on one web page, until Ctrl-C."""
    import asyncio

    from logger.commands.steady_console import SteadyConsole
    from logger.page.stations import find_stations

    place = PageAsked(True, page_host, page_port, page_cert, page_key).place
    assert place is not None
    find_stations()  # whether they may be looked for is said at once
    asyncio.run(_serve(place, SteadyConsole()))


async def _serve(place: Place, console: Console) -> None:
    import asyncio

    from logger.commands.signals import stopped_by_signals
    from logger.page.board import Board
    from logger.page.following import follow_all
    from logger.recording.ending import cancel

    board = Board()
    async with stopped_by_signals() as stop, stations_page(place, board, console):
        following = asyncio.create_task(follow_all(board), name="stations")
        stopping = asyncio.create_task(stop.wait(), name="until stopped")
        try:
            await asyncio.wait([following, stopping], return_when=asyncio.FIRST_COMPLETED)
        finally:
            await cancel(following)
            await cancel(stopping)

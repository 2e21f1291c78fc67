"""The live page of a command: where it is asked for, how it is opened, and what is said of it."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.errors import BadInputError, EvencupError

if TYPE_CHECKING:
    from rich.console import Console

    from logger.page.board import Board
    from logger.page.feed import Feed
    from logger.page.serving import LivePage, Place

PageOption = Annotated[
    bool, typer.Option("--page", help="Show it on a web page too: the address is printed.")
]
PageHost = Annotated[
    str | None,
    typer.Option(
        "--page-host",
        metavar="ADDRESS",
        help="Serve it there, not to this machine alone; 0.0.0.0: everywhere.",
    ),
]
PagePort = Annotated[
    int | None, typer.Option("--page-port", metavar="PORT", help="Its port.", min=1, max=65535)
]
PageCertificate = Annotated[
    Path | None, typer.Option("--page-cert", metavar="PEM", help="A certificate of yours, for https.")
]
PageKey = Annotated[Path | None, typer.Option("--page-key", metavar="PEM", help="Its key.")]


@dataclass(frozen=True, slots=True)
class PageAsked:
    """What was said of the page on the command line; any option of it asks for one."""

    page: bool = False
    host: str | None = None
    port: int | None = None
    certificate: Path | None = None
    key: Path | None = None

    @property
    def place(self) -> Place | None:
        """Where to serve it; None where none was asked for.

        :raises BadInputError: when there is a key and nothing that it belongs to
        """
        from logger.page.serving import Place

        said = (self.host, self.port, self.certificate, self.key)
        if not self.page and all(each is None for each in said):
            return None
        if self.key is not None and self.certificate is None:
            raise BadInputError("--page-key", "has no certificate", "Give it with --page-cert.")
        return Place(self.host or "127.0.0.1", self.port, self.certificate, self.key)


@contextlib.asynccontextmanager
async def feed_to_page(place: Place | None, title: str, console: Console) -> AsyncIterator[list[Feed]]:
    """Serve a page while the block runs, and give what is to be told the cues; nothing without a place.

    :param title: what is brewed
    :raises BadInputError: when the place cannot be had
    """
    if place is None:
        yield []
        return
    from logger.page.board import Board
    from logger.page.feed import Feed
    from logger.page.serving import LivePage

    board = Board()
    feed = board.add("", Feed(title))
    async with LivePage(board, place) as page:
        say_where(page, console)
        with _announced(page, title, console):
            yield [feed]


@contextlib.asynccontextmanager
async def stations_page(place: Place, board: Board, console: Console) -> AsyncIterator[None]:
    """Serve a page with every feed of a board side by side, for as long as the block runs."""
    from logger.page.serving import LivePage

    async with LivePage(board, place, "stations.html") as page:
        say_where(page, console)
        yield


def say_where(page: LivePage, console: Console) -> None:
    """Print the page's addresses, the first one as a square for the phone, where a phone can reach it."""
    from logger.page.addresses import is_local, square
    from logger.show.terminal.text import is_plain

    first, *others = page.urls
    console.print(f"The page: {first}", markup=False, highlight=False, soft_wrap=True)
    for url in others:
        console.print(f"      or: {url}", markup=False, highlight=False, soft_wrap=True)
    if is_local(page.host):
        console.print("For a phone on the same network: --page-host 0.0.0.0", style="dim")
    elif console.is_terminal and not is_plain(console):
        console.print(square(first))


@contextlib.contextmanager
def _announced(page: LivePage, title: str, console: Console) -> Iterator[None]:
    """Let ``evencup page`` find it; a brew is not kept from being recorded by that."""
    from logger.page.stations import announced

    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(
                announced(title, page.station_host, page.port, page.token, secure=page.secure)
            )
        except EvencupError as error:
            console.print(f"evencup page will not find this one: {error}", markup=False, highlight=False)
        yield

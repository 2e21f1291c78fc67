"""Words and tables in a terminal: no markup in what the brewer wrote, ASCII where Unicode cannot be shown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from logger.show.terminal.terminal_chart import ChartLine

ALARM = "bold dark_orange"
_KINDS = {"curve": "bold cyan", "band": "dim", "": ""}
_SPELLED = str.maketrans(
    {
        "\u00a0": " ",
        "°": "",
        "±": "+-",
        "·": "-",
        "–": "-",
        "—": "-",
        "“": '"',
        "”": '"',
        "’": "'",
        "…": "...",
    }
)


def is_plain(console: Console) -> bool:
    """Say whether a terminal takes ASCII alone."""
    return not console.encoding.lower().startswith("utf")


def said(text: str, plain: bool) -> str:
    """Write a text so that the terminal can show it, on one line and without control characters.

    :param plain: ASCII alone: what has no spelling of its own there becomes a question mark
    """
    text = "".join(
        character if character.isprintable() or character == "\u00a0" else " " for character in text
    )
    if not plain:
        return text
    return text.translate(_SPELLED).encode("ascii", "replace").decode("ascii")


def print_words(console: Console, text: str, style: str = "") -> None:
    """Print a text as it is."""
    console.print(said(text, is_plain(console)), style=style, markup=False, highlight=False, emoji=False)


def words_table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    plain: bool,
    bold_rows: Sequence[int] = (),
    cut: Sequence[int] = (0,),
) -> Table:
    """Make a table with a rule under its head.

    :param bold_rows: numbers of the rows that stand out
    :param cut: numbers of the columns that may be cut where the window is narrow; the others are whole
    """
    from rich.box import SIMPLE_HEAD, Box
    from rich.table import Table
    from rich.text import Text

    rule = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True) if plain else SIMPLE_HEAD
    table = Table(box=rule, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="dim")
    for number, head in enumerate(heads):
        may_be_cut = number in cut
        table.add_column(
            Text(said(head, plain)), no_wrap=may_be_cut, overflow="ellipsis" if may_be_cut else "fold"
        )
    for number, row in enumerate(rows):
        table.add_row(*(Text(said(cell, plain)) for cell in row), style="bold" if number in bold_rows else "")
    return table


def print_chart(console: Console, lines: Sequence[ChartLine]) -> None:
    """Print a chart and an empty line after it."""
    from rich.text import Text

    for line in lines:
        text = Text().append(line.label, "dim" if line.cells else "")
        for character, kind in line.cells:
            text.append(character, _KINDS[kind])
        console.print(text, no_wrap=True, overflow="crop", crop=True)
    console.print()

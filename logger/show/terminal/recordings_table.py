"""The list of recordings, as given: newest first is the store's business."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from logger.show.terminal.text import is_plain, print_words, words_table
from logger.show.words.wording import clock

if TYPE_CHECKING:
    from rich.console import Console

    from logger.recording import Summary

NONE_YET = "There is no recording here yet. To make one: evencup record"


def print_recordings(summaries: Iterable[Summary], console: Console) -> None:
    """Print one line for each recording: its name, which begins with when, how long, and its title."""
    rows = list(summaries)
    if not rows:
        print_words(console, NONE_YET)
        return
    lines = [_line(summary) for summary in rows]
    heads = ("recording", "lasted", "title", "")
    table = words_table(heads, lines, is_plain(console), cut=(2,))
    console.print(table)
    for summary in rows:
        if summary.problem:
            print_words(console, f"! {summary.name}: {summary.problem}")


def _line(summary: Summary) -> tuple[str, ...]:
    lasted_s = summary.duration_s
    return (
        summary.name,
        "" if lasted_s is None else clock(lasted_s),
        summary.meta.title,
        summary.state,
    )

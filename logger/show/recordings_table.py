"""The list of recordings, as given: newest first is the store's business."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from logger.show.terminal import is_plain, print_words, words_table
from logger.show.wording import clock

if TYPE_CHECKING:
    from datetime import tzinfo

    from rich.console import Console

    from logger.recording import Summary

NONE_YET = "There is no recording here yet. To make one: evencup record"


def print_recordings(summaries: Iterable[Summary], console: Console, zone: tzinfo | None = None) -> None:
    """Print one line for each recording: when, how long, its title, its name for other commands.

    :param zone: the time zone to show the start in; None for this machine's
    """
    rows = list(summaries)
    if not rows:
        print_words(console, NONE_YET)
        return
    lines = [_line(summary, zone) for summary in rows]
    heads = ("recording", "started", "lasted", "title", "")
    table = words_table(heads, lines, is_plain(console))
    console.print(table)
    for summary in rows:
        if summary.problem:
            print_words(console, f"! {summary.name}: {summary.problem}")


def _line(summary: Summary, zone: tzinfo | None) -> tuple[str, ...]:
    started = summary.meta.started
    lasted_s = summary.duration_s
    if summary.damaged:
        state = "damaged"
    elif summary.problem or not summary.meta.complete:
        state = "cut off"
    else:
        state = ""
    return (
        summary.name,
        f"{started.astimezone(zone):%Y-%m-%d %H:%M}" if started else "not known",
        "" if lasted_s is None else clock(lasted_s),
        summary.meta.title,
        state,
    )

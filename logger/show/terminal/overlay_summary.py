"""Many brews of one target in the terminal: how even, what to change first, the median, every figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from logger.show.terminal.terminal_chart import chart
from logger.show.terminal.text import ALARM, is_plain, print_chart, print_words, words_table
from logger.show.words.overlay_rows import HEADS, scatter_row, why_besides
from logger.show.words.practice_words import FIX_SHORT_HEADS, count_of, fix_short_row, shown_fixes
from logger.show.words.wording import marked, sentence

if TYPE_CHECKING:
    from rich.console import Console

    from logger.compare import Spread
    from logger.show.pages.overlay_page import Overlay

_CHART_LINES = 12
_MOST_COLUMNS = 100


def print_overlay(overlay: Overlay, console: Console) -> None:
    """Print how even brews of one target are."""
    plain, spread = is_plain(console), overlay.spread
    print_words(console, f"{spread.target.title}: {count_of(spread.n, spread.target.method)}", "bold")
    console.print()
    print_words(console, sentence(spread.verdict), "bold")
    if spread.change:
        print_words(console, f"Change this first: {sentence(spread.change)}", ALARM)
    if why := why_besides(spread):
        print_words(console, why)
    if spread.n:
        print_words(console, spread.practice.next_cup.says)
    if spread.n == 0:
        return
    if len(fixes := shown_fixes(spread.practice)) > 1:
        console.print()
        rows = [fix_short_row(fix, spread.target.method) for fix in fixes]
        console.print(words_table(FIX_SHORT_HEADS, rows, plain))
    console.print()
    _print_median(spread, console)
    console.print(words_table((HEADS[0], "", *HEADS[1:]), _rows(spread, plain), plain))
    console.print()
    console.print(
        words_table(("brew", "against the target", "from the median"), _brew_rows(overlay, plain), plain)
    )
    for name, words in zip(overlay.names, overlay.apart, strict=True):
        if words:
            print_words(console, f"{name} {words}.")
    if overlay.left_out:
        print_words(console, f"Left out, because no brew was found in them: {', '.join(overlay.left_out)}.")


def _print_median(spread: Spread, console: Console) -> None:
    from logger.target import corridor, first_weight_s

    time_s = spread.time_s - first_weight_s(spread.target)
    shown = time_s >= 0
    if np.isnan(spread.median_g[shown]).all():
        return
    band = corridor(spread.target, spread.time_s[shown])
    width = min(console.width, _MOST_COLUMNS)
    print_words(console, "The median brew in the target's corridor:")
    print_chart(
        console, chart(time_s[shown], spread.median_g[shown], band, width, _CHART_LINES, is_plain(console))
    )


def _rows(spread: Spread, plain: bool) -> list[tuple[str, ...]]:
    rows = []
    groups = [(one.stage.name, one.figures) for one in spread.stages]
    for name, figures in [*groups, ("whole brew", spread.whole)]:
        for number, scatter in enumerate(figures):
            rows.append((name if number == 0 else "", *scatter_row(scatter, spread.target.method, plain)))
    return rows


def _brew_rows(overlay: Overlay, plain: bool) -> list[tuple[str, ...]]:
    return [
        (
            brew.recording.name,
            marked(brew.comparison.inside if brew.comparison else None, plain),
            distance.words,
        )
        for brew, distance in zip(overlay.held, overlay.distances, strict=True)
    ]

"""Two practice sets in the terminal: what differs beyond chance, figure by figure."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from logger.show.terminal.text import is_plain, print_words, words_table
from logger.show.words.wording import NBSP, amount, quantity_words, short_clock

if TYPE_CHECKING:
    from rich.console import Console

    from logger.compare.practice import Contrast, TwoSets

_LENGTHS = ("drawdown_s", "resistance_s")


def print_contrast(two: TwoSets, console: Console) -> None:
    """Print how two practice sets differ."""
    plain = is_plain(console)
    print_words(console, f"{two.first.target.title}: {two.names[0]} and {two.names[1]}", "bold")
    console.print()
    print_words(console, two.verdict, "bold")
    for note in two.notes:
        print_words(console, note)
    for name, practice in zip(two.names, (two.first, two.second), strict=True):
        print_words(console, f"{name}: {practice.next_cup.says}")
    if not two.contrasts:
        return
    console.print()
    heads = ("stage", "", *two.names, "difference", "effect", "differs")
    console.print(words_table(heads, _rows(two), plain))
    print_words(
        console,
        "Difference: second less first, with its 90 % interval. Effect: Hedges' g, in standard deviations. "
        "Differs: beyond chance, by shuffling brews between the sets, corrected for all figures (Holm).",
    )


def _rows(two: TwoSets) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    last = None
    for one in two.contrasts:
        stage = one.stage or "whole brew"
        rows.append((stage if stage != last else "", *_row(one, two)))
        last = stage
    return rows


def _row(one: Contrast, two: TwoSets) -> tuple[str, ...]:
    off = one.difference
    reach = f"{NBSP}({off.low:+.1f}…{off.high:+.1f})" if off.is_known else ""
    said = [*(["mean"] if one.beyond_chance else []), *([_spread(one)] if one.spread_beyond_chance else [])]
    return (
        quantity_words(one.quantity, two.first.target.method),
        _value(one, one.first.value),
        _value(one, one.second.value),
        f"{off.value:+.1f}{reach}" if math.isfinite(off.value) else "-",
        f"{one.effect.value:+.1f}" if one.effect.is_known else "-",
        ", ".join(said) or "no",
    )


def _spread(one: Contrast) -> str:
    return f"spread x{one.spread_ratio.value:.1f}" if one.spread_ratio.is_known else "spread"


def _value(one: Contrast, value: float) -> str:
    if not math.isfinite(value):
        return "-"
    is_moment = one.unit == "s" and one.quantity not in _LENGTHS
    return short_clock(value) if is_moment else amount(value, one.unit)

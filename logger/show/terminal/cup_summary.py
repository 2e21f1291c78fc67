"""Several cups in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from logger.show.pages.cup_page import CHANCE_WORDS, CUP_HEADS, KEPT_WORDS, SCALE_WORDS, cup_rows, verdicts
from logger.show.terminal.text import is_plain, print_words, words_table
from logger.show.words.cup_words import CAUTION_CUP, GIVE_OR_TAKE_CUP
from logger.show.words.taste_words import (
    CALL_HEADS,
    PATTERN_HEADS,
    TASTER_HEADS,
    agreement_sentences,
    call_rows,
    pattern_rows,
    pattern_sentence,
    taster_rows,
)

if TYPE_CHECKING:
    from datetime import tzinfo

    from rich.console import Console

    from logger.compare.cups import Cups


def print_cups(cups: Cups, console: Console, zone: tzinfo | None = None) -> None:
    """Print them.

    :param zone: the time zone to show starts in; None for this machine's
    """
    first, *others = verdicts(cups)
    print_words(console, first, "bold")
    for words in others:
        print_words(console, words)
    console.print()
    console.print(words_table(CUP_HEADS, cup_rows(cups, zone), is_plain(console), cut=(1,)))
    for place, one in enumerate(cups.cups, 1):
        for words in one.cup.remarks:
            print_words(console, f"Cup {place}: {words}")
    print_words(console, f"{GIVE_OR_TAKE_CUP} {KEPT_WORDS}", "dim")
    _print_table(console, CALL_HEADS, call_rows(cups.agreement), SCALE_WORDS)
    for words in agreement_sentences(cups.agreement):
        print_words(console, words)
    _print_table(console, TASTER_HEADS, taster_rows(cups.agreement), "")
    if words := pattern_sentence(cups.patterns, cups.n_alike):
        console.print()
        print_words(console, words)
        _print_table(console, PATTERN_HEADS, pattern_rows(cups.patterns), CHANCE_WORDS)
    console.print()
    print_words(console, CAUTION_CUP, "dim")


def _print_table(console: Console, heads: Sequence[str], rows: Sequence[Sequence[str]], under: str) -> None:
    if not rows:
        return
    console.print()
    console.print(words_table(heads, rows, is_plain(console)))
    if under:
        print_words(console, under, "dim")

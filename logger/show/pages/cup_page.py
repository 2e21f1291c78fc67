"""Several cups as one page of HTML: could a taster tell, where they lie, how calls and cups agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.show.figures.cup_figure import cup_figures
from logger.show.pages.markup import bullets, element, section, table, wrapped
from logger.show.pages.page import figure_place, page
from logger.show.plain_data.cup_json import cups_json
from logger.show.words.cup_words import CAUTION_CUP, GIVE_OR_TAKE_CUP, cup_title, known_words, told_apart
from logger.show.words.headline import title_of
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

    from logger.compare.cups import CupOfBrew, Cups
    from logger.cup.known import Known

CUP_HEADS = ("cup", "brew", "strength, %", "extraction, %", "ratio", "kept, g")
KEPT_WORDS = "Kept: water that stayed in the grounds."
_UNKNOWN = "–"
SCALE_WORDS = "Tastes are on a scale of 0 (not there) to 15 (as strong as it gets)."
ALPHA_WORDS = (
    "Alpha (Krippendorff) is 1 where tasters agree wholly and 0 where no better than chance; its interval "
    "comes from "
    "drawing the cups again."
)
CHANCE_WORDS = (
    "Chance: how often so many pairs as were tried would give one as clear by chance alone (permutation "
    "test, Holm)."
)


def cups_page(cups: Cups, zone: tzinfo | None = None) -> str:
    """Make the page.

    :param zone: the time zone to show starts in; None for this machine's
    """
    title = f"In the cup: {cup_title(len(cups.cups))}"
    figures = cup_figures(cups.cups)
    parts = [
        wrapped("header", element("h1", title)),
        *(element("p", words, "verdict") for words in verdicts(cups)[:1]),
        *(element("p", words, "sure") for words in verdicts(cups)[1:]),
        *(figure_place(figure) for figure in figures),
        _cup_by_cup(cups, zone),
        _calls(cups),
        _tasters(cups),
        _patterns(cups),
        wrapped("footer", element("p", CAUTION_CUP)),
    ]
    return page(title, "\n".join(part for part in parts if part), figures, cups_json(cups))


def verdicts(cups: Cups) -> list[str]:
    """Say first whether a taster could tell, where that can be asked."""
    said: list[str] = []
    for espresso in (False, True):
        strengths = [
            one.cup.strength
            for one in cups.cups
            if one.cup.strength is not None and (one.cup.method == "espresso") == espresso
        ]
        answer, why = told_apart(strengths, espresso=espresso)
        said += [answer, why] if answer else []
    if not said:
        known = sum(one.cup.strength is not None for one in cups.cups)
        said.append("Strength is noted of one cup." if known == 1 else "Strength is not noted of any cup.")
    return said


def cup_rows(cups: Cups, zone: tzinfo | None = None) -> list[tuple[str, ...]]:
    """Table each cup."""
    titles = {title_of(one.brew) for one in cups.cups}
    return [
        (
            str(place),
            _brew_words(one, titles, zone),
            _cell(one.cup.strength, 2),
            _cell(one.cup.extraction, 1),
            _ratio(one),
            _cell(one.cup.held_g, 1),
        )
        for place, one in enumerate(cups.cups, 1)
    ]


def _brew_words(one: CupOfBrew, titles: set[str], zone: tzinfo | None) -> str:
    """Name a brew by its start, and by its title where that tells it from others."""
    started = one.brew.recording.meta.started
    if started is None:
        return one.name
    local = started.astimezone(zone)
    moment = f"{local.day} {local:%b %Y, %H:%M}"
    return moment if len(titles) == 1 else f"{title_of(one.brew)}, {moment}"


def _ratio(one: CupOfBrew) -> str:
    return _UNKNOWN if one.cup.ratio is None else f"1:{one.cup.ratio.value:.1f}"


def _cell(known: Known | None, decimals: int) -> str:
    return _UNKNOWN if known is None else known_words(known, "", decimals)


def _cup_by_cup(cups: Cups, zone: tzinfo | None) -> str:
    body = table(CUP_HEADS, cup_rows(cups, zone), "plain stacks")
    remarks = [f"Cup {place}: {words}" for place, one in enumerate(cups.cups, 1) for words in one.cup.remarks]
    if remarks:
        body += bullets(remarks)
    if any(one.cup.strength is not None for one in cups.cups):
        body += element("p", f"{GIVE_OR_TAKE_CUP} {KEPT_WORDS}", "under-figure")
    return section("Cup by cup", body)


def _calls(cups: Cups) -> str:
    rows = call_rows(cups.agreement)
    sentences = agreement_sentences(cups.agreement)
    if not rows and not sentences:
        return ""
    body = table(CALL_HEADS, rows, "plain stacks") if rows else ""
    body += bullets(sentences) if sentences else ""
    return section("Called and tasted", body + element("p", SCALE_WORDS, "under-figure"))


def _tasters(cups: Cups) -> str:
    rows = taster_rows(cups.agreement)
    if not rows:
        return ""
    body = table(TASTER_HEADS, rows, "plain stacks") + element("p", ALPHA_WORDS, "under-figure")
    return section("Tasters of the same cup", body)


def _patterns(cups: Cups) -> str:
    words = pattern_sentence(cups.patterns, cups.n_alike)
    if not words:
        return ""
    rows = pattern_rows(cups.patterns)
    body = element("p", words)
    if rows:
        body += table(PATTERN_HEADS, rows, "plain stacks") + element("p", CHANCE_WORDS, "under-figure")
    return section("What goes with the taste", body)

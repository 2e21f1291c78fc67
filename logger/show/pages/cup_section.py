"""The section of a report's page about the cup."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.compare.cups import cup_of
from logger.show.figures.cup_figure import cup_figures
from logger.show.figures.figure import Figure
from logger.show.pages.markup import bullets, element, section
from logger.show.pages.page import figure_place
from logger.show.words.cup_words import CAUTION_CUP, GIVE_OR_TAKE_CUP, cup_sentences

if TYPE_CHECKING:
    from logger.compare import Brew


def cup_section(brew: Brew) -> str:
    """What is in the cup: strength, extraction, taste, and where it lies; empty where nothing was noted."""
    one = cup_of(brew)
    sentences = cup_sentences(one)
    if not sentences:
        return ""
    parts = [bullets(sentences)]
    parts += [figure_place(figure) for figure in cup_figures([one])]
    if one.cup.strength is not None:
        parts.append(element("p", GIVE_OR_TAKE_CUP, "under-figure"))
    parts.append(element("p", CAUTION_CUP, "under-figure"))
    return section("In the cup", "".join(parts))


def cup_figures_of(brew: Brew) -> list[Figure]:
    """The figures that :func:`cup_section` gives a place."""
    one = cup_of(brew)
    return cup_figures([one]) if cup_sentences(one) else []

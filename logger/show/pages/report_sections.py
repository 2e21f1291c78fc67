"""Two sections of a report's page: the espressos, and what the thermometers say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.show.pages.markup import bullets, element, section, table
from logger.show.words.shot_words import SHOT_HEADS, shot_rows
from logger.show.words.temperature_words import POUR_HEADS, pour_rows, temperature_sentences
from logger.show.words.wording import sentence

if TYPE_CHECKING:
    from logger.compare import Brew


def shots_section(brew: Brew) -> str:
    """Every espresso in figures; empty where there is none."""
    start_s = brew.analysis.start_s or 0.0
    made = []
    for place, shot in enumerate(brew.shots, 1):
        heading = "The shot" if len(brew.shots) == 1 else f"Shot {place}"
        remarks = bullets(shot.remarks) if shot.remarks else ""
        made.append(section(heading, table(SHOT_HEADS, shot_rows(shot, start_s), "plain") + remarks))
    return "".join(made)


def temperatures_section(brew: Brew) -> str:
    """What the thermometers say, and the kettle at every pour; empty without a thermometer."""
    if not brew.thermometers:
        return ""
    words = bullets(temperature_sentences(brew.thermometers, brew.analysis.start_s or 0.0))
    for name, one in brew.thermometers.items():
        if one.at_pours:
            words += element("p", sentence(f"{name} at each pour:"))
            words += table(POUR_HEADS, pour_rows(one), "plain")
    return section("Temperatures", words)

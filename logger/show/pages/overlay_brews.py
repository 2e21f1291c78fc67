"""The brews of an overlay, one by one: the boxes that draw their lines, and what is said of each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from logger.show.pages.markup import Cell, element, section, table, wrapped
from logger.show.words.overlay_rows import Distance, apart_words
from logger.show.words.shot_words import CANNOT
from logger.show.words.wording import amount, grams, is_outside, marked, short_clock, when
from logger.show.words.wording import brews as count_of_brews

if TYPE_CHECKING:
    from datetime import tzinfo

    from logger.compare import Brew
    from logger.compare.standing_apart import Apart
    from logger.curve import Method
    from logger.curve.shot.figures import ShotFigures

MOST_TICKED = 10
"""Up to so many brews all lines are drawn from the start; of more, those that stand apart."""
_MOST_APART_TICKED = 6
_MOST_APART_LISTED = 8
_MOST_LISTED = 24
_MOST_ROWS = 40
_SAMPLE = (
    '<svg width="44" height="8" aria-hidden="true">'
    '<line x1="0" y1="4" x2="44" y2="4" stroke-width="2.5"/></svg>'
)


def ticked(apart: Sequence[str]) -> list[int]:
    """Choose the places of the brews whose lines are drawn from the start.

    :param apart: of each brew how it stands apart, or nothing
    """
    if len(apart) <= MOST_TICKED:
        return list(range(len(apart)))
    return [place for place, words in enumerate(apart) if words][:_MOST_APART_TICKED]


def brew_boxes(names: Sequence[str], apart: Sequence[str]) -> str:
    """Make the boxes that draw each brew's line: those that stand apart first, where there are many brews."""
    shown = set(ticked(apart))
    parts = []
    if len(names) > MOST_TICKED:
        parts.append(
            '<label class="every"><input type="checkbox" id="every-line">every brew as a thin line</label>'
        )
    if len(names) <= _MOST_LISTED:
        parts.append(_boxes(range(len(names)), names, apart, shown))
        return wrapped("div", "".join(parts), "choose")
    odd = [place for place, words in enumerate(apart) if words][:_MOST_APART_LISTED]
    parts.append(_boxes(odd, names, apart, shown))
    seek = '<p><label>Find <input type="search" id="seek-brew" autocomplete="off"></label> '
    seek += '<button type="button" id="no-line">Untick all</button></p>'
    summary = element("summary", f"Choose among all {count_of_brews(len(names))}")
    listed = wrapped("div", _boxes(range(len(names)), names, apart, shown), "scrolls")
    parts.append(f'<details id="all-brews">{summary}{seek}{listed}</details>')
    return wrapped("div", "".join(parts), "choose")


def _boxes(places: Sequence[int], names: Sequence[str], apart: Sequence[str], shown: set[int]) -> str:
    if not places:
        return ""
    return wrapped(
        "ul", "".join(_box(place, names[place], apart[place], place in shown) for place in places), "curves"
    )


def _box(place: int, name: str, apart: str, is_shown: bool) -> str:
    checked = " checked" if is_shown else ""
    box = f'<input type="checkbox" data-brew="{place}"{checked}>'
    words = f"{element('b', str(place + 1))} {escape(name)}"
    if apart:
        words += f" {element('span', apart, 'apart')}"
    return wrapped("li", wrapped("label", f"{box}{_SAMPLE}<span>{words}</span>"))


def each_brew(
    held: Sequence[Brew],
    distances: Sequence[Distance],
    aparts: Sequence[tuple[Apart, ...]],
    method: Method,
    zone: tzinfo | None,
) -> str:
    """Say of each brew how it went, how far it is from the others, and what its bed did."""
    has_bed = any(_tau(brew) for brew in held)
    heads = ("brew", "started", "against the target", "in all", *(["tau of the bed"] if has_bed else []))
    rows: list[list[Cell]] = []
    for place, (brew, distance, apart) in enumerate(zip(held, distances, aparts, strict=True), 1):
        inside = brew.comparison.inside if brew.comparison else None
        words = apart_words(apart, distance, method)
        rows.append(
            [
                f"{place} {brew.recording.name}",
                when(brew.recording.meta.started, zone),
                (marked(inside), "outside" if is_outside(inside) else ""),
                grams(brew.analysis.total_g),
                *([_tau(brew) or "-"] if has_bed else []),
                distance.words,
                (words, "apart"),
            ]
        )
    rows_html = table((*heads, "furthest from the median", "unlike the others"), rows, "plain stacks")
    if len(rows) > _MOST_ROWS:
        summary = element("summary", f"All {count_of_brews(len(rows))}")
        rows_html = f'<details class="long">{summary}{rows_html}</details>'
    words = (
        "Tau is the time in which the head of water in the bed falls to 37 %, ± its standard deviation."
        if has_bed
        else ""
    )
    return section("Brew by brew", rows_html + (element("p", words, "under-figure") if words else ""))


def _tau(brew: Brew) -> str:
    tail = brew.drawdown.tail if brew.drawdown else None
    if tail is None:
        return ""
    return (
        f"{tail.tau_s:.1f} ±{tail.tau_sd_s:.1f} s" if math.isfinite(tail.tau_sd_s) else f"{tail.tau_s:.1f} s"
    )


def each_shot(held: Sequence[Brew]) -> str:
    """Table the espressos that were held against the target; empty where there is none."""
    shots = [(place, brew, held_one(brew)) for place, brew in enumerate(held, 1)]
    rows: list[list[Cell]] = [
        [f"{place} {brew.recording.name}", *_shot_row(shot)]
        for place, brew, shot in shots
        if shot is not None
    ]
    if not rows:
        return ""
    heads = (
        "shot",
        "first drip",
        "stop",
        "yield at the stop",
        "after-drip",
        "at rest",
        "average flow",
        "peak flow",
    )
    words = "Times count from the pump's start where that was marked, else from the first drip."
    return section("Shot by shot", table(heads, rows, "plain stacks") + element("p", words, "under-figure"))


def held_one(brew: Brew) -> ShotFigures | None:
    """The espresso of a recording that is held against the target."""
    from logger.curve.shot.shots import main_shot

    return main_shot(brew.shots) if brew.shots else None


def _shot_row(shot: ShotFigures) -> list[Cell]:
    since_s = shot.first_drip_s if shot.pump_s is None else shot.pump_s
    stop = CANNOT if shot.stop_s is None else short_clock(shot.stop_s - since_s)
    if shot.stop_s is not None and shot.stop_uncertainty_s is not None:
        stop += f" ±{2.0 * shot.stop_uncertainty_s:.1f}"
    at_stop = CANNOT if shot.yield_at_stop_g is None else grams(shot.yield_at_stop_g)
    if shot.yield_at_stop_g is not None and shot.yield_at_stop_uncertainty_g is not None:
        at_stop += f" ±{2.0 * shot.yield_at_stop_uncertainty_g:.1f}"
    return [
        short_clock(shot.first_drip_s - since_s),
        stop,
        at_stop,
        CANNOT if shot.after_drip_g is None else grams(shot.after_drip_g),
        grams(shot.yield_at_rest_g),
        CANNOT if shot.average_flow_g_s is None else amount(shot.average_flow_g_s, "g/s"),
        CANNOT if shot.peak_flow_g_s is None else amount(shot.peak_flow_g_s, "g/s"),
    ]

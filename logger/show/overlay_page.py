"""Many brews of one target as one page of HTML: how even they are, the curves, the figures, each brew."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, Any

from logger.show.headline import CAUTION
from logger.show.json_line import report_json
from logger.show.json_numbers import number
from logger.show.markup import Cell, element, grouped_table, section, table, wrapped
from logger.show.overlay_figure import curve_key, line_look, overlay_figure
from logger.show.overlay_rows import HEADS, distances, held_brews, scatter_row, why_besides
from logger.show.page import figure_place, page
from logger.show.wording import brews as count_of_brews
from logger.show.wording import grams, is_outside, marked, sentence, when

if TYPE_CHECKING:
    from datetime import tzinfo

    from logger.compare import Brew, Scatter, Spread, StageSpread
    from logger.target import Target

_DASH_LENGTHS = {"solid": "", "dash": "9 5", "dot": "2 4", "dashdot": "9 4 2 4", "longdash": "15 5"}
_UNDER_FIGURE = (
    "Time counts from the first weight on the scale. The pale band is the corridor that the target allows, "
    "the dashed line the plan; the darker band holds the middle half of the brews, the thick line is their "
    "median. Untick a brew to hide its curve."
)


def overlay_page(brews: Sequence[Brew], spread: Spread, target: Target, zone: tzinfo | None = None) -> str:
    """Make the page.

    :param brews: as given to ``logger.compare.spread``; those without a brew in them are named as such
    :param zone: the time zone to show starts in; None for this machine's
    """
    held = held_brews(brews)
    title = f"{target.title}: {count_of_brews(len(held))}"
    names = [brew.recording.name for brew in held]
    has_curves = bool(held)
    parts = [
        wrapped("header", element("h1", title) + element("p", _facts(target), "facts")),
        _verdict(spread),
        _figure(title, held) if has_curves else "",
        _figures(spread, target) if has_curves else "",
        _each_brew(held, spread, zone) if has_curves else "",
        _left_out(brews, held),
        wrapped("footer", element("p", CAUTION)),
    ]
    figure = overlay_figure(spread, names) if has_curves else None
    return page(title, "\n".join(part for part in parts if part), figure, overlay_json(brews, spread))


def overlay_json(brews: Sequence[Brew], spread: Spread) -> dict[str, Any]:
    """Give an overlay as plain data; what cannot be said is None."""
    return {
        "target": spread.target.title,
        "n": spread.n,
        "enough": bool(spread.enough),
        "verdict": spread.verdict,
        "change": spread.change,
        "why": spread.why,
        "stages": [
            {
                "name": one.stage.name,
                "n": one.n,
                "n_inside": one.n_inside,
                "n_missing": one.n_missing,
                "figures": _scatters_json(one.figures),
            }
            for one in spread.stages
        ],
        "whole": _scatters_json(spread.whole),
        "brews": [report_json(brew) for brew in brews],
    }


def _scatters_json(scatters: Sequence[Scatter]) -> dict[str, Any]:
    return {
        one.quantity: {
            "wanted": number(one.wanted),
            "limit_low": number(one.limits[0]),
            "limit_high": number(one.limits[1]),
            "n": one.n,
            "n_told": one.n_told,
            "n_inside": one.n_inside,
            "mean": number(one.mean),
            "sd": number(one.sd),
            "likely_low": number(one.likely[0]),
            "likely_high": number(one.likely[1]),
        }
        for one in scatters
    }


def _facts(target: Target) -> str:
    facts = [target.method, f"dose {grams(target.dose_g)}", f"{grams(target.total_g)} in all"]
    return " · ".join([*facts, *(text for text in (target.coffee, target.grind) if text)])


def _verdict(spread: Spread) -> str:
    lines = [element("p", sentence(spread.verdict), "verdict")]
    if spread.change:
        lines.append(
            wrapped("p", element("b", "Change this first") + escape(sentence(spread.change)), "change")
        )
    if why := why_besides(spread):
        lines.append(wrapped("p", element("b", "How sure?") + " " + escape(why), "sure"))
    return "".join(lines)


def _figure(title: str, held: Sequence[Brew]) -> str:
    boxes = [_box(index, brew.recording.name) for index, brew in enumerate(held)]
    boxes_html = wrapped("ul", "".join(boxes), "curves")
    return (
        figure_place(f"Curves over each other. {title}")
        + element("p", _UNDER_FIGURE, "under-figure")
        + boxes_html
    )


def _box(index: int, name: str) -> str:
    """Make the box that shows and hides a curve, with a piece of its line."""
    colour, dash = line_look(index)
    line = (
        '<svg width="44" height="8" aria-hidden="true"><line x1="0" y1="4" x2="44" y2="4" stroke-width="2.5" '
        f'style="stroke: var(--{("first", "second", "third", "fourth")[colour]})" '
        f'stroke-dasharray="{_DASH_LENGTHS[dash]}"/></svg>'
    )
    box = f'<input type="checkbox" checked data-curve="{curve_key(index)}">'
    return wrapped("li", wrapped("label", f"{box}{line}{escape(name)}"))


def _figures(spread: Spread, target: Target) -> str:
    groups = [(_stage_heading(one), _rows(one.figures, target)) for one in spread.stages]
    if spread.whole:
        groups.append((element("span", "the whole brew"), _rows(spread.whole, target)))
    return section("Figure by figure", grouped_table(HEADS, groups, "judged"))


def _stage_heading(one: StageSpread) -> str:
    words = f"{one.n_inside} of {count_of_brews(one.n)} inside"
    if one.n_missing:
        words += f", missing or run together in {one.n_missing}"
    return f"{element('span', one.stage.name)} {element('span', words, 'aside')}"


def _rows(scatters: Sequence[Scatter], target: Target) -> list[list[Cell]]:
    return [list(scatter_row(one, target.method)) for one in scatters]


def _each_brew(held: Sequence[Brew], spread: Spread, zone: tzinfo | None) -> str:
    rows: list[list[Cell]] = []
    for brew, distance in zip(held, distances(spread), strict=True):
        comparison = brew.comparison
        inside = comparison.inside if comparison else None
        apart = "stands apart" if distance.stands_apart else ""
        rows.append(
            [
                brew.recording.name,
                when(brew.recording.meta.started, zone),
                (marked(inside), "outside" if is_outside(inside) else ""),
                grams(brew.analysis.total_g),
                distance.words,
                apart,
            ]
        )
    heads = ("brew", "started", "against the target", "in all", "furthest from the median", "")
    return section("Brew by brew", table(heads, rows, "plain"))


def _left_out(brews: Sequence[Brew], held: Sequence[Brew]) -> str:
    out = [brew for brew in brews if not any(brew is one for one in held)]
    if not out:
        return ""
    names = ", ".join(brew.recording.name for brew in out)
    return element("p", f"Left out, because no brew was found in them: {names}.", "sure")

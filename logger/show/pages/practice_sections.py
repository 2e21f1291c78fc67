"""The sections of an overlay's page that say how even the cups are and what to change next."""

from __future__ import annotations

import math
from html import escape
from typing import TYPE_CHECKING

from logger.show.figures.control_charts import charted, control_chart
from logger.show.figures.figure import Figure, View
from logger.show.figures.fixes_figure import fixes_figure
from logger.show.pages.markup import Cell, bullets, element, grouped_table, section, table, wrapped
from logger.show.pages.page import figure_place
from logger.show.words.practice_words import (
    EVENNESS_HEADS,
    FIX_HEADS,
    count_of,
    evenness_row,
    figure_name,
    fix_row,
    percent,
    shown_figures,
    shown_fixes,
    stage_words,
)
from logger.show.words.wording import quantity_words, sentence

if TYPE_CHECKING:
    from logger.compare.practice import Practice, Scatter

CHARTS, FIXES = "charts", "fixes"
_EVENNESS_CAPTION = (
    "Mean ± and the brackets are 90 % intervals; scatter is one standard deviation, corrected for few brews; "
    "Cpk is the nearer limit's distance from the mean in 3 standard deviations, 1.33 or more being called "
    "capable by common practice; nine in ten of all is the tolerance interval that holds with 95 in 100."
)


def headline(practice: Practice) -> str:
    """The verdict, the one thing to change, the number that matters, and how sure all that is."""
    parts = [element("p", sentence(practice.verdict), "verdict")]
    if practice.change:
        parts.append(
            wrapped("p", element("b", "Change this first") + escape(sentence(practice.change)), "change")
        )
    parts.append(_next_cup(practice))
    if practice.why and practice.why not in practice.verdict:
        parts.append(wrapped("p", element("b", "How sure?") + " " + escape(practice.why), "sure"))
    return "".join(parts)


def _next_cup(practice: Practice) -> str:
    inside = practice.next_cup.inside
    if not math.isfinite(inside.value):
        return element("p", sentence(practice.next_cup.says), "sure")
    number = element("b", percent(inside.value), "number")
    is_shot = practice.target.method == "espresso"
    what = "the next shot is inside in every figure" if is_shot else "the next cup is inside on every stage"
    words = element("span", what, "what")
    bar = _bar(inside.low, inside.high, inside.value) if inside.is_known else ""
    said = element("p", sentence(practice.next_cup.says), "sure")
    return wrapped("div", f"<p>{number} {words}</p>{bar}{said}", "next-cup")


def _bar(low: float, high: float, value: float) -> str:
    """Draw an interval of a probability; the words beside it say the same."""
    return (
        '<svg class="interval" viewBox="0 0 1000 24" preserveAspectRatio="none" aria-hidden="true">'
        '<rect class="track" x="0" y="9" width="1000" height="6"/>'
        f'<rect class="range" x="{1000 * low:.0f}" y="5" height="14" '
        f'width="{max(1000 * (high - low), 2):.0f}"/>'
        f'<rect class="value" x="{1000 * value - 3:.0f}" y="0" width="6" height="24"/></svg>'
    )


def practice_figures(practice: Practice) -> list[Figure]:
    """The figures of a practice set: what each fix would bring, and the control charts."""
    figures = []
    if shown_fixes(practice):
        figures.append(
            Figure(FIXES, "What each fix would bring", _fixes_caption(practice), (_fixes_view(practice),))
        )
    if scatters := charted(practice):
        views = tuple(
            View(
                _key(scatter),
                figure_name(scatter, practice.target.method) + _signal_words(scatter),
                control_chart(scatter, practice),
            )
            for scatter in scatters
        )
        figures.append(Figure(CHARTS, "Control chart", _chart_caption(practice), views))
    return figures


def _fixes_view(practice: Practice) -> View:
    return View(FIXES, "fixes", fixes_figure(practice))


def _key(scatter: Scatter) -> str:
    return f"{scatter.stage} {scatter.quantity}".strip().replace(" ", "-").replace("_", "-").lower()


def _signal_words(scatter: Scatter) -> str:
    count = len({signal.brew for signal in scatter.chart.signals}) if scatter.chart else 0
    return f" ({count} out of control)" if count else ""


def _fixes_caption(practice: Practice) -> str:
    n = count_of(practice.next_cup.n, practice.target.method)
    return (
        "The longest bar is what to work on first: it shows how far the probability in % that the next cup "
        f"is inside would rise if that one thing were put right, as {n} tell; dotted bars are no more than a "
        "hint yet."
    )


def _chart_caption(practice: Practice) -> str:
    brews = count_of(practice.n, practice.target.method)
    return (
        f"Look for squares: {brews} stand in the order in which they were brewed, and a square marks where a "
        "standard run rule says that it was more than the usual scatter; the dashed lines lie 3 sigma from "
        "the mean by the moving range, and the band is what the target allows."
    )


def fixes_section(practice: Practice, figure: Figure | None) -> str:
    """What to change next, the most first."""
    if figure is None:
        return ""
    rows: list[list[Cell]] = [list(fix_row(fix)) for fix in shown_fixes(practice)]
    return section("What to change next", figure_place(figure) + table(FIX_HEADS, rows, "plain stacks"))


def evenness_section(practice: Practice) -> str:
    """Every figure over the brews, stage by stage."""
    method = practice.target.method
    groups: list[tuple[str, list[list[Cell]]]] = [
        (
            f"{element('span', stage.stage.name)} {element('span', stage_words(stage), 'aside')}",
            [list(evenness_row(scatter, method)) for scatter in shown_figures(stage.figures)],
        )
        for stage in practice.stages
    ]
    if practice.whole:
        whole: list[list[Cell]] = [
            list(evenness_row(scatter, method)) for scatter in shown_figures(practice.whole)
        ]
        groups.append((element("span", "the shot" if method == "espresso" else "the whole brew"), whole))
    caption = element("p", f"{count_of(practice.n, method)}. {_EVENNESS_CAPTION}", "under-figure")
    return section("Figure by figure", grouped_table(EVENNESS_HEADS, groups, "judged stacks folds") + caption)


def charts_section(figure: Figure | None) -> str:
    """One figure brew by brew."""
    return section("Brew after brew", figure_place(figure)) if figure is not None else ""


def positions_section(practice: Practice) -> str:
    """Cups made in one go, by their place in the round."""
    positions = practice.positions
    if not positions.says:
        return ""
    words = element("p", sentence(positions.says))
    rows = [f"{sentence(odd.says)} (p = {odd.p:.2g}, {odd.difference.n} rounds)" for odd in positions.odd]
    return section("Cup by cup in a round", words + (bullets(rows) if rows else ""))


def notes_section(practice: Practice) -> str:
    """What the reader must know besides."""
    method = practice.target.method
    uncounted = [
        f"{stage or 'the brew'}, {quantity_words(quantity, method)}, is not counted: {why}."
        for stage, quantity, why in practice.next_cup.uncounted
    ]
    notes = [sentence(note) for note in (*practice.notes, *uncounted)]
    return section("Notes", bullets(notes)) if notes else ""

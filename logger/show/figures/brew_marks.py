"""What is marked on a brew's figure: pours, stages, finishing weights, each by shape and word."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from logger.show.curves.label_places import PHONE_PX, PX_PER_LETTER, Place, below
from logger.show.curves.thinning import zero_s
from logger.show.figures.axes import plain_text
from logger.show.figures.palette import LIGHT
from logger.show.words.wording import difference_words, inside_words, is_outside, shortened

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare import Brew, Deviation, StageResult

_ENDS: tuple[tuple[bool | None, str, str, str], ...] = (
    (True, "finished inside", "circle", LIGHT.curve),
    (False, "finished outside", "x", LIGHT.alarm),
    (None, "finished, cannot be told", "circle-open", LIGHT.quiet),
)


WEIGHT_PX = 330
WEIGHT_ROOM = 1.16
"""How far the weight's axis reaches over the highest weight: room for the stages' names."""


class _Mark(NamedTuple):
    """A point on the curve and what is said of it; the time counts from the brew's start."""

    time_s: float
    weight_g: float
    deviation: Deviation


def shade_pours(figure: go.Figure, brew: Brew) -> None:
    """Shade each pour through all panels."""
    start_s = zero_s(brew.analysis)
    for pour in brew.analysis.pours:
        figure.add_shape(
            type="rect",
            xref="x",
            yref="paper",
            x0=pour.start_s - start_s,
            x1=pour.end_s - start_s,
            y0=0,
            y1=1,
            fillcolor=LIGHT.pour,
            line={"width": 0},
            layer="below",
        )


def name_stages(figure: go.Figure, brew: Brew, end_s: float) -> None:
    """Write each stage's name, or the pour's number, over its beginning."""
    write_names(figure, _stage_labels(brew), end_s)


def write_names(figure: go.Figure, names: list[tuple[float, str]], end_s: float) -> None:
    """Write names along the top of the first panel, in two lines where one is too crowded for a phone."""
    labels = [(time_s, shortened(text, 18)) for time_s, text in names]
    is_crowded = any(
        (after_s - time_s) / end_s * PHONE_PX < PX_PER_LETTER * (len(text) + 1)
        for (time_s, text), (after_s, _) in pairwise(labels)
    )
    for index, (time_s, text) in enumerate(labels):
        in_lower_row = is_crowded and index % 2 == 1
        figure.add_annotation(
            row=1,
            col=1,
            xref="x",
            yref="y domain",
            x=time_s,
            y=1,
            text=plain_text(text),
            showarrow=False,
            xanchor="left",
            yanchor="top",
            xshift=3,
            yshift=-16 if in_lower_row else 0,
            font={"size": 12, "color": LIGHT.ink},
        )


def mark_stages(figure: go.Figure, brew: Brew, end_s: float, top_g: float) -> None:
    """Mark where each finishing weight came to lie (a disc inside, a cross outside, a ring else) and starts
    that are outside (a triangle).

    :param end_s: where the time axis ends
    :param top_g: the highest weight that is shown
    """
    ends = _ends(brew)
    starts = [start for start in _starts(brew) if is_outside(start.deviation.inside)]
    outside = [*starts, *(end for end in ends if is_outside(end.deviation.inside))]
    told = sorted(outside, key=lambda mark: mark.time_s)
    marks = [
        (mark.time_s / end_s, 1 - mark.weight_g / (WEIGHT_ROOM * top_g), difference_words(mark.deviation))
        for mark in told
    ]
    places = dict(zip(told, below(marks, WEIGHT_PX), strict=True))
    for inside, name, symbol, colour in _ENDS:
        alike = [end for end in ends if inside_words(end.deviation.inside) == inside_words(inside)]
        _add_marks(figure, alike, name, symbol, colour, places)
    _add_marks(figure, starts, "started outside", "triangle-right", LIGHT.alarm, places)


def _add_marks(
    figure: go.Figure, marks: list[_Mark], name: str, symbol: str, colour: str, places: dict[_Mark, Place]
) -> None:
    if not marks:
        return
    words = [difference_words(mark.deviation) for mark in marks]
    placed = [places.get(mark) for mark in marks]
    figure.add_scatter(
        x=[mark.time_s for mark in marks],
        y=[mark.weight_g for mark in marks],
        row=1,
        col=1,
        name=name,
        mode="markers+text" if any(placed) else "markers",
        marker={"symbol": symbol, "size": 10, "color": colour, "line": {"width": 2, "color": colour}},
        # a line further down for each <br>: clear of the plan's line, and of the words above
        text=["<br>" * place.down + word if place else "" for place, word in zip(placed, words, strict=True)],
        hovertext=words,
        textposition=[f"bottom {place.side if place else 'right'}" for place in placed],
        textfont={"color": colour, "size": 12},
        hovertemplate=name + ": %{hovertext}<extra></extra>",
    )


def _ends(brew: Brew) -> list[_Mark]:
    """Give the end of each stage, or of the shot, with the deviation of its finishing weight."""
    comparison, start_s = brew.comparison, zero_s(brew.analysis)
    if comparison is None:
        return []
    ends = [
        _Mark(result.pours[-1].end_s - start_s, deviation.actual, deviation)
        for result in comparison.stages
        if result.pours
        for deviation in result.deviations
        if deviation.quantity == "to_g"
    ]
    if not comparison.stages and brew.analysis.end_s is not None:
        end_s = brew.analysis.end_s - start_s
        totals = [deviation for deviation in comparison.whole if deviation.quantity == "total_g"]
        ends = [_Mark(end_s, total.actual, total) for total in totals]
    return [end for end in ends if np.isfinite(end.weight_g)]


def _starts(brew: Brew) -> list[_Mark]:
    """Give the start of each stage with its deviation."""
    start_s = zero_s(brew.analysis)
    return [
        _Mark(result.pours[0].start_s - start_s, result.pours[0].from_g, deviation)
        for result in (brew.comparison.stages if brew.comparison else ())
        if result.pours
        for deviation in result.deviations
        if deviation.quantity == "start_s"
    ]


def _stage_labels(brew: Brew) -> list[tuple[float, str]]:
    start_s = zero_s(brew.analysis)
    if brew.analysis.method == "espresso":
        return [(0.0, "extraction")]
    if brew.comparison is None or not brew.comparison.stages:
        return [(pour.start_s - start_s, f"pour {n}") for n, pour in enumerate(brew.analysis.pours, 1)]
    labels = [_stage_label(result, start_s) for result in brew.comparison.stages]
    labels += [(pour.start_s - start_s, "extra pour") for pour in brew.comparison.extra]
    return sorted(labels)


def _stage_label(result: StageResult, start_s: float) -> tuple[float, str]:
    if result.finding in ("matched", "split") and result.pours:
        return result.pours[0].start_s - start_s, result.stage.name
    return result.stage.start_s, f"{result.stage.name} ({result.finding})"

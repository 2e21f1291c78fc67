"""What is marked on a brew's figure: pours, stages, finishing weights and events, each by shape and word."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from logger.curve import Event, EventKind
from logger.show.axes import plain_text
from logger.show.palette import LIGHT
from logger.show.thinning import zero_s
from logger.show.wording import difference_words, event_words, inside_words, is_outside, shortened

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare import Brew, Deviation, StageResult

_SYMBOLS: dict[EventKind, str] = {
    "tare": "triangle-down-open",
    "vessel-on": "square-open",
    "vessel-off": "square-x-open",
    "dose": "diamond-open",
    "knock": "x-thin-open",
    "stir": "star-open",
    "gap": "hourglass-open",
    "press": "triangle-down-dot",
    "drift": "arrow-bar-up-open",
    "unit": "cross-open",
}
_ENDS: tuple[tuple[bool | None, str, str, str], ...] = (
    (True, "finished inside", "circle", LIGHT.curve),
    (False, "finished outside", "x", LIGHT.alarm),
    (None, "finished, cannot be told", "circle-open", LIGHT.quiet),
)


_PHONE_PX = 320  # what a phone's width leaves for the curves
_PX_PER_LETTER = 7


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
        (after_s - time_s) / end_s * _PHONE_PX < _PX_PER_LETTER * (len(text) + 1)
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


def mark_stages(figure: go.Figure, brew: Brew) -> None:
    """Mark where each finishing weight came to lie (a disc inside, a cross outside, a ring else) and starts
    that are outside (a triangle).
    """
    ends = _ends(brew)
    for inside, name, symbol, colour in _ENDS:
        marks = [end for end in ends if inside_words(end.deviation.inside) == inside_words(inside)]
        _add_marks(figure, marks, name, symbol, colour, with_words=inside is False)
    starts = [start for start in _starts(brew) if is_outside(start.deviation.inside)]
    _add_marks(figure, starts, "started outside", "triangle-right", LIGHT.alarm, with_words=True)


def _add_marks(
    figure: go.Figure, marks: list[_Mark], name: str, symbol: str, colour: str, with_words: bool
) -> None:
    if not marks:
        return
    words = [difference_words(mark.deviation) for mark in marks]
    figure.add_scatter(
        x=[mark.time_s for mark in marks],
        y=[mark.weight_g for mark in marks],
        row=1,
        col=1,
        name=name,
        mode="markers+text" if with_words else "markers",
        marker={"symbol": symbol, "size": 10, "color": colour, "line": {"width": 2, "color": colour}},
        text=[f"<br>{word}" for word in words],  # clear of the plan's line
        hovertext=words,
        textposition="bottom right",
        textfont={"color": colour, "size": 12},
        hovertemplate=name + ": %{hovertext}<extra></extra>",
    )


def shown_events(brew: Brew, end_s: float) -> list[tuple[float, Event]]:
    """Give the events that lie on the time axis, with their times from the brew's start."""
    start_s = zero_s(brew.analysis)
    events = [(event.start_s - start_s, event) for event in brew.analysis.events]
    return [(time_s, event) for time_s, event in events if 0 <= time_s <= end_s]


def mark_events(figure: go.Figure, row: int, brew: Brew, end_s: float) -> None:
    """Mark the events in a panel of their own, and frame the gaps in the weight."""
    events = shown_events(brew, end_s)
    figure.add_scatter(
        x=[time_s for time_s, _ in events],
        y=[index % 2 for index in range(len(events))],
        row=row,
        col=1,
        name="event",
        mode="markers+text",
        marker={
            "symbol": [_SYMBOLS[event.kind] for _, event in events],
            "size": 10,
            "color": LIGHT.ink,
            "line": {"width": 1.6, "color": LIGHT.ink},
        },
        text=[f" {event_words(event.kind)}" for _, event in events],
        textposition=["middle left" if time_s > 0.85 * end_s else "middle right" for time_s, _ in events],
        textfont={"color": LIGHT.ink, "size": 12},
        hovertemplate="%{text}<extra></extra>",
        showlegend=False,
    )
    figure.update_yaxes(row=row, col=1, range=[1.8, -0.8], showticklabels=False, showgrid=False, ticks="")
    for time_s, event in events:
        if event.kind == "gap":
            _frame_gap(figure, time_s, time_s + event.end_s - event.start_s)


def _frame_gap(figure: go.Figure, from_s: float, to_s: float) -> None:
    figure.add_shape(
        type="rect",
        xref="x",
        yref="y domain",
        x0=from_s,
        x1=to_s,
        y0=0,
        y1=1,
        line={"color": LIGHT.quiet, "width": 1.2, "dash": "dash"},
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

"""What each fix of a practice set would bring: from where to where the probability would rise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from logger.show.figures.axes import panel_title, panels, plain_text
from logger.show.figures.palette import LIGHT
from logger.show.words.practice_words import fix_name, percent, shown_fixes
from logger.show.words.wording import shortened

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare.practice import Fix, Practice
    from logger.target import Target

_FIX_PX = 46
_LETTERS = 44
_PERCENT = 100.0
_LABEL_LEFT_FROM = 0.85
"""From this probability on there is no room for the number at the right of its point."""


def fixes_figure(practice: Practice) -> go.Figure:
    """Draw for each fix from where to where the probability would rise, that the next cup is inside."""
    fixes = shown_fixes(practice)
    figure = _empty(len(fixes))
    now = _PERCENT * fixes[0].now
    _draw_now(figure, now, len(fixes))
    for place, fix in enumerate(fixes):
        _draw_rise(figure, fix, place, now)
        _write_name(figure, fix, place, practice.target)
    _draw_reached(figure, fixes, carried=True)
    _draw_reached(figure, fixes, carried=False)
    panel_title(figure, 1, "probability that the next cup is inside, %")
    return figure


def _empty(count: int) -> go.Figure:
    """Give the axes, with room for so many fixes, the first at the top."""
    figure = panels((_FIX_PX * count + 10,), 100.0)
    figure.update_layout(hovermode="closest", meta={"is_no_clock": True}, margin={"l": 22, "r": 30})
    figure.update_xaxes(
        range=[0, 100],
        tickmode="array",
        tickvals=[0, 25, 50, 75, 100],
        ticktext=["0 %", "25", "50", "75", "100 %"],
    )
    figure.update_yaxes(range=[count - 0.4, -0.75], showticklabels=False, showgrid=False, ticks="")
    return figure


def _draw_now(figure: go.Figure, now: float, count: int) -> None:
    figure.add_scatter(
        x=[now, now],
        y=[-0.5, count - 0.5],
        mode="lines",
        name="as it is now",
        line={"color": LIGHT.ink, "width": 1.4, "dash": "dash"},
        hoverinfo="skip",
    )


def _draw_rise(figure: go.Figure, fix: Fix, place: int, now: float) -> None:
    figure.add_scatter(
        x=[now, _PERCENT * fix.then],
        y=[place, place],
        mode="lines",
        line={"color": _colour(fix.carried), "width": 5, "dash": "solid" if fix.carried else "dot"},
        hoverinfo="skip",
        showlegend=False,
    )


def _write_name(figure: go.Figure, fix: Fix, place: int, target: Target) -> None:
    figure.add_annotation(
        x=0,
        y=place,
        xref="x domain",
        yref="y",
        text=plain_text(shortened(fix_name(fix, target.method), _LETTERS)),
        showarrow=False,
        xanchor="left",
        yanchor="bottom",
        yshift=5,
        bgcolor=LIGHT.paper,
        borderpad=1,
        font={"size": 12, "color": LIGHT.ink},
    )


def _draw_reached(figure: go.Figure, fixes: Sequence[Fix], *, carried: bool) -> None:
    """Draw where the fixes that the brews carry, or do not, would take the probability."""
    alike = [(place, fix) for place, fix in enumerate(fixes) if fix.carried is carried]
    if not alike:
        return
    colour = _colour(carried)
    figure.add_scatter(
        x=[_PERCENT * fix.then for _, fix in alike],
        y=[place for place, _ in alike],
        mode="markers+text",
        name="told by these brews" if carried else "not told yet",
        marker={
            "symbol": "circle" if carried else "circle-open",
            "size": 11,
            "color": colour,
            "line": {"width": 2, "color": colour},
        },
        text=[f" {percent(fix.then)} " for _, fix in alike],
        textposition=[f"middle {'left' if fix.then > _LABEL_LEFT_FROM else 'right'}" for _, fix in alike],
        textfont={"color": LIGHT.ink, "size": 12},
        hovertemplate="%{text}<extra></extra>",
    )


def _colour(carried: bool) -> str:
    return LIGHT.curve if carried else LIGHT.quiet

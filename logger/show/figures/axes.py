"""What all figures share: one time axis in minutes and seconds, panels, quiet lines, hover text."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from logger.show.figures.palette import LIGHT
from logger.show.words.wording import clock

if TYPE_CHECKING:
    import plotly.graph_objects as go

FONT = 'system-ui, -apple-system, "Segoe UI", "Noto Sans", "Liberation Sans", "DejaVu Sans", sans-serif'
TICK_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400, 43200)
_PANEL_GAP_PX = 38


def panels(heights_px: Sequence[int], end_s: float) -> go.Figure:
    """Make an empty figure of panels over each other on one time axis from the brew's start.

    :param heights_px: each panel's height, from the top
    :param end_s: where the time axis ends
    """
    from plotly.subplots import make_subplots

    inner_px = sum(heights_px) + _PANEL_GAP_PX * (len(heights_px) - 1)
    figure = make_subplots(
        rows=len(heights_px),
        cols=1,
        shared_xaxes=True,
        vertical_spacing=_PANEL_GAP_PX / inner_px,
        row_heights=list(heights_px),
    )
    figure.update_layout(
        template="none",
        height=inner_px + 30 + 84,
        margin={"l": 44, "r": 10, "t": 30, "b": 84},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": FONT, "size": 13, "color": LIGHT.ink},
        hovermode="x unified",
        hoverlabel={"bgcolor": LIGHT.paper, "bordercolor": LIGHT.quiet, "font": {"color": LIGHT.ink}},
        legend={
            "orientation": "h",
            "x": 0,
            "xanchor": "left",
            "y": -42 / inner_px,
            "yanchor": "top",
            "font": {"color": LIGHT.ink},
        },
        modebar={"bgcolor": "rgba(0,0,0,0)", "color": LIGHT.quiet, "activecolor": LIGHT.ink},
        dragmode="zoom",
    )
    line = {"showline": True, "linecolor": LIGHT.quiet, "gridcolor": LIGHT.grid, "zeroline": False}
    ticks = {"ticks": "outside", "tickcolor": LIGHT.quiet, "tickfont": {"color": LIGHT.ink}}
    figure.update_yaxes(**line, **ticks, fixedrange=True, rangemode="tozero", nticks=6)
    figure.update_xaxes(
        **line, **ticks, **time_ticks(end_s), range=[0, end_s], minallowed=0, maxallowed=end_s
    )
    figure.update_xaxes(
        hoverformat=".1f", unifiedhovertitle={"text": "%{x:.1f} s"}, spikecolor=LIGHT.quiet, spikethickness=1
    )
    return figure


def time_ticks(end_s: float, most: int = 9) -> dict[str, Any]:
    """Choose whole steps of the clock; the page's script chooses again for its width and zoom."""
    step_s = next((step for step in TICK_STEPS_S if end_s / step <= most), TICK_STEPS_S[-1])
    values = [step_s * index for index in range(math.floor(end_s / step_s) + 1)]
    return {"tickmode": "array", "tickvals": values, "ticktext": [clock(value) for value in values]}


def panel_title(figure: go.Figure, row: int, text: str) -> None:
    """Write what a panel shows over its top left corner."""
    figure.add_annotation(
        row=row,
        col=1,
        text=text,
        showarrow=False,
        xref="x domain",
        yref="y domain",
        x=0,
        y=1,
        xanchor="left",
        yanchor="bottom",
        yshift=4,
        font={"size": 13, "color": LIGHT.quiet},
    )


def clocks(times_s: Sequence[float]) -> list[str]:
    """Write times for hovering."""
    return [clock(time_s, 1) for time_s in times_s]


def plain_text(text: str) -> str:
    """Keep a brewer's text from being read as markup by the figure."""
    return html.escape(text, quote=False).replace("%{", "%\u200b{")

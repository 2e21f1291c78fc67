"""The panels of the bed: water in, beverage out, water held; and the percolation flow below them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from logger.curve.bed.drawdown import DRY_FLOW_G_S
from logger.show.curves.curve_lines import draw_line
from logger.show.curves.thinning import between, zero_s
from logger.show.figures.axes import panel_title
from logger.show.figures.palette import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare import Brew
    from logger.curve import Bed, Floats

BED_HEIGHTS_PX = {"bed": 220, "percolation": 110}
_TAIL_POINTS = 60


def has_bed(brew: Brew) -> bool:
    """Say whether there is a bed to draw."""
    return brew.bed is not None and not brew.bed.why


def bed_end_s(brew: Brew) -> float:
    """Say until when there is something to see of the bed, from where shown times count."""
    ends_s = [0.0]
    if brew.bed is not None and brew.bed.end_s is not None:
        ends_s.append(brew.bed.end_s - zero_s(brew.analysis))
    return max(ends_s)


def draw_bed(figure: go.Figure, rows: dict[str, int], brew: Brew, end_s: float) -> None:
    """Draw the two panels.

    :param rows: the number of each panel, ``bed`` and ``percolation`` among them
    """
    bed = brew.bed
    if bed is None:
        return
    start_s = zero_s(brew.analysis)
    time_s = bed.time_s - start_s
    curves = (
        ("water in", bed.water_g, LIGHT.curve, "solid"),
        ("beverage out", bed.beverage_g, LIGHT.first, "dash"),
        ("held", bed.held_g, LIGHT.second, "dot"),
    )
    for name, values, colour, dash in curves:
        _line(figure, rows["bed"], name, *between(time_s, values, 0.0, end_s), colour, dash, "g")
    flow = between(time_s, bed.flow_g_s, 0.0, end_s)
    _line(figure, rows["percolation"], "percolation flow", *flow, LIGHT.first, "solid", "g/s")
    _draw_tail(figure, rows["percolation"], bed, start_s)
    panel_title(figure, rows["bed"], "water in, beverage out, held, g")
    panel_title(figure, rows["percolation"], "percolation flow, g/s")


def _draw_tail(figure: go.Figure, row: int, bed: Bed, start_s: float) -> None:
    """Draw the flow that the fitted tail says, as far as it was measured, and the flow that counts as dry."""
    tail = bed.drawdown.tail if bed.drawdown else None
    if tail is None or bed.end_s is None:
        return
    time_s = np.linspace(tail.start_s, bed.end_s, _TAIL_POINTS)
    flow = tail.free_g / tail.tau_s * np.exp(-(time_s - tail.start_s) / tail.tau_s)
    _line(figure, row, "fitted tail", time_s - start_s, flow, LIGHT.ink, "dash", "g/s")
    if bed.drawdown and bed.drawdown.dry_s is not None and bed.drawdown.by == "flow":
        figure.add_scatter(
            x=[bed.drawdown.dry_s - start_s],
            y=[DRY_FLOW_G_S],
            row=row,
            col=1,
            name="run dry",
            mode="markers+text",
            marker={"symbol": "triangle-up-open", "size": 10, "color": LIGHT.ink},
            text=["run dry"],
            textposition="top center",
            textfont={"color": LIGHT.ink, "size": 12},
            hovertemplate="run dry<extra></extra>",
            showlegend=False,
        )


def _line(
    figure: go.Figure, row: int, name: str, time_s: Floats, values: Floats, colour: str, dash: str, unit: str
) -> None:
    line = {"color": colour, "dash": dash, "width": 2}
    draw_line(figure, row, name, time_s, values, unit, line, in_legend=name != "percolation flow")

"""One curve as a line of a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from logger.curve import Floats
from logger.show.curves.thinning import thinned

if TYPE_CHECKING:
    import plotly.graph_objects as go


def draw_line(
    figure: go.Figure,
    row: int,
    name: str,
    time_s: Floats,
    values: Floats,
    unit: str,
    line: dict[str, Any],
    *,
    in_legend: bool,
) -> None:
    """Draw a curve, thinned to what an eye can tell apart."""
    time_s, values = thinned(time_s, values)
    figure.add_scatter(
        x=time_s.astype(np.float32),
        y=values.astype(np.float32),
        row=row,
        col=1,
        name=name,
        mode="lines",
        line=line,
        hovertemplate=f"{name} %{{y:.1f}} {unit}<extra></extra>",
        showlegend=in_legend,
    )

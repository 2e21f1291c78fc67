"""The figure of many brews of one target: every curve in the corridor, their median and middle half."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from logger.curve import Floats
from logger.show.axes import clocks, panel_title, panels, plain_text
from logger.show.brew_figure import draw_corridor
from logger.show.brew_marks import write_names
from logger.show.palette import DASHES, LIGHT
from logger.show.thinning import thinned

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare import Spread

MOST_POINTS_A_BREW = 600
MOST_POINTS_IN_ALL = 15_000


def overlay_figure(spread: Spread, names: list[str]) -> go.Figure:
    """Draw brews over each other, from their first weight on.

    :param names: of the brews in ``spread.weight_g``, in that order
    """
    from logger.target import first_weight_s

    offset_s = first_weight_s(spread.target)
    time_s = spread.time_s - offset_s
    end_s = float(time_s[-1])
    figure = panels((460,), end_s)
    figure.update_layout(hovermode="closest")
    draw_corridor(figure, spread.target, end_s, offset_s)
    _draw_middle_half(figure, time_s, spread)
    for number, (name, weight_g) in enumerate(zip(names, spread.weight_g, strict=True)):
        _draw_brew(figure, number, name, time_s, weight_g, len(names))
    _draw_median(figure, time_s, spread)
    tops_g = [float(np.nanmax(spread.weight_g))] if np.isfinite(spread.weight_g).any() else []
    top_g = max(spread.target.total_g, *tops_g)
    figure.update_yaxes(range=[-0.02 * top_g, 1.14 * top_g])
    panel_title(figure, 1, "weight, g")
    write_names(figure, [(stage.start_s, stage.name) for stage in spread.target.stages], end_s)
    return figure


def curve_key(number: int) -> str:
    """Name a brew's curve, for the box that shows and hides it."""
    return f"brew-{number}"


def line_look(number: int) -> tuple[int, str]:
    """Choose which of the four colours, and which dash, tell a brew's line apart."""
    return number % 4, DASHES[(number // 4) % len(DASHES)]


def _draw_brew(
    figure: go.Figure, number: int, name: str, time_s: Floats, weight_g: Floats, count: int
) -> None:
    most = max(60, min(MOST_POINTS_A_BREW, MOST_POINTS_IN_ALL // count))
    known = np.flatnonzero(np.isfinite(weight_g))
    until = known[-1] + 1 if len(known) else 0
    shown_s, shown_g = thinned(time_s[:until], weight_g[:until], most)
    colour, dash = line_look(number)
    figure.add_scatter(
        x=shown_s.astype(np.float32),
        y=shown_g.astype(np.float32),
        name=plain_text(name),
        legendgroup=curve_key(number),
        showlegend=False,
        mode="lines",
        line={"color": LIGHT.lines[colour], "dash": dash, "width": 1.4},
        customdata=clocks(shown_s.tolist()),
        hovertemplate="%{customdata}  %{y:.1f} g<extra>" + plain_text(name) + "</extra>",
    )


def _draw_middle_half(figure: go.Figure, time_s: Floats, spread: Spread) -> None:
    """Frame the middle half of the brews: from four on, quartiles are more than the brews themselves."""
    if spread.n < 4:
        return
    thin_s, low_g = _every(time_s, spread.low_quartile_g)
    _, high_g = _every(time_s, spread.high_quartile_g)
    edge = {"color": LIGHT.curve, "width": 1}
    for number, run in enumerate(_known_runs(low_g)):
        common = {
            "x": thin_s[run],
            "mode": "lines",
            "legendgroup": "middle",
            "hoverinfo": "skip",
            "line": edge,
        }
        figure.add_scatter(**common, y=low_g[run], showlegend=False)
        figure.add_scatter(
            **common,
            y=high_g[run],
            name="middle half of the brews",
            showlegend=number == 0,
            fill="tonexty",
            fillcolor=LIGHT.middle,
        )


def _known_runs(values: Floats) -> list[slice]:
    """Find the stretches without NaN: a filled band must not be closed across a gap."""
    known = np.concatenate(([False], np.isfinite(values), [False]))
    changes = np.flatnonzero(known[1:] != known[:-1])
    return [slice(int(start), int(end)) for start, end in zip(changes[::2], changes[1::2], strict=True)]


def _draw_median(figure: go.Figure, time_s: Floats, spread: Spread) -> None:
    if spread.n < 3:
        return
    thin_s, median_g = _every(time_s, spread.median_g)
    figure.add_scatter(
        x=thin_s,
        y=median_g,
        name="median brew",
        mode="lines",
        line={"color": LIGHT.curve, "width": 3},
        customdata=clocks(thin_s.tolist()),
        hovertemplate="%{customdata}  %{y:.1f} g<extra>median brew</extra>",
    )


def _every(time_s: Floats, values: Floats, most: int = 800) -> tuple[Floats, Floats]:
    """Keep every so many points, the same ones for each curve: a band needs both its edges at each time."""
    stride = max(1, -(-len(time_s) // most))
    return time_s[::stride], values[::stride]

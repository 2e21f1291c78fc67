"""The figure of many brews of one target: their median and spread, and the brews that were asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from logger.curve import Floats
from logger.show.curves.overlay_lines import thinned_alike, without_ends
from logger.show.figures.axes import clocks, panel_title, panels, plain_text
from logger.show.figures.brew_figure import draw_corridor
from logger.show.figures.brew_marks import write_names
from logger.show.figures.palette import DASHES, LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.show.curves.overlay_curves import Curves
    from logger.target import Target

HEIGHT_PX = 440
LOOKS = [(place % 4, DASHES[(place // 4 + place % 4) % len(DASHES)]) for place in range(20)]
"""Colour and dash of the first, second ... brew that is shown, neighbours differing in both; from the 21st on
they repeat. ``overlay.js`` has the same."""
_BAND_POINTS = 500
_NAMES = {"weight": "weight, g", "off the plan": "weight less the plan, g", "flow": "flow, g/s"}


def overlay_figure(
    curves: Curves, target: Target, names: Sequence[str], shown: Sequence[int] = ()
) -> go.Figure:
    """Draw one view of brews laid over each other at their first weight.

    :param names: of the brews, in the order of ``curves.values``
    :param shown: the places of those to draw as lines of their own
    """
    from logger.target import first_weight_s

    end_s = float(curves.time_s[-1])
    offset_s = first_weight_s(target)
    figure = panels((HEIGHT_PX,), end_s)
    figure.update_layout(hovermode="closest")
    if curves.kind in ("weight", "off the plan"):
        draw_corridor(figure, target, end_s, offset_s, less_plan=curves.kind == "off the plan")
    _draw_wanted(figure, curves, target, end_s, offset_s)
    _draw_band(figure, curves, curves.most, "nine tenths of the brews", LIGHT.most, "dot")
    _draw_band(figure, curves, curves.half, "middle half of the brews", LIGHT.middle, "solid")
    for place, number in enumerate(shown):
        _draw_brew(figure, curves, number, names[number], LOOKS[place % len(LOOKS)])
    _draw_median(figure, curves)
    _scale(figure, curves, target)
    panel_title(figure, 1, _NAMES.get(curves.kind, f"{plain_text(curves.key)}, °C"))
    write_names(figure, [(stage.start_s, stage.name) for stage in target.stages], end_s)
    return figure


def _draw_brew(figure: go.Figure, curves: Curves, number: int, name: str, look: tuple[int, str]) -> None:
    time_s, values = thinned_alike(curves)
    shown_s, shown = without_ends(time_s, values[number])
    colour, dash = look
    figure.add_scatter(
        x=shown_s.astype(np.float32),
        y=shown.astype(np.float32),
        name=plain_text(name),
        mode="lines",
        line={"color": LIGHT.lines[colour], "dash": dash, "width": 1.6},
        customdata=clocks(shown_s.tolist()),
        hovertemplate=f"%{{customdata}}  %{{y:.1f}} {curves.unit}<extra>{plain_text(name)}</extra>",
    )


def _draw_band(
    figure: go.Figure, curves: Curves, band: tuple[Floats, Floats] | None, name: str, fill: str, dash: str
) -> None:
    if band is None:
        return
    time_s, low = _every(curves.time_s, band[0])
    _, high = _every(curves.time_s, band[1])
    edge = {"color": LIGHT.curve, "width": 1, "dash": dash}
    for number, run in enumerate(_known_runs(low)):
        common: dict[str, Any] = {
            "x": time_s[run],
            "mode": "lines",
            "legendgroup": name,
            "hoverinfo": "skip",
            "line": edge,
        }
        figure.add_scatter(**common, y=low[run], showlegend=False)
        figure.add_scatter(
            **common, y=high[run], name=name, showlegend=number == 0, fill="tonexty", fillcolor=fill
        )


def _known_runs(values: Floats) -> list[slice]:
    """Find the stretches without NaN: a filled band must not be closed across a gap."""
    known = np.concatenate(([False], np.isfinite(values), [False]))
    changes = np.flatnonzero(known[1:] != known[:-1])
    return [slice(int(start), int(end)) for start, end in zip(changes[::2], changes[1::2], strict=True)]


def _draw_median(figure: go.Figure, curves: Curves) -> None:
    if curves.n < 3:
        return
    time_s, median = _every(curves.time_s, curves.median)
    figure.add_scatter(
        x=time_s,
        y=median,
        name="median brew",
        mode="lines",
        line={"color": LIGHT.curve, "width": 3},
        customdata=clocks(time_s.tolist()),
        hovertemplate=f"%{{customdata}}  %{{y:.1f}} {curves.unit}<extra>median brew</extra>",
    )


def _draw_wanted(figure: go.Figure, curves: Curves, target: Target, end_s: float, offset_s: float) -> None:
    """Draw the flow, or the water's temperature, that each stage wants, with what its tolerance allows."""
    for number, (from_s, to_s, wanted, tolerance) in enumerate(
        wanted_levels(curves, target, end_s, offset_s)
    ):
        common: dict[str, Any] = {"x": [from_s, to_s], "mode": "lines", "hoverinfo": "skip"}
        edge = {"color": LIGHT.edge, "width": 1, "dash": "dot"}
        figure.add_scatter(**common, y=[wanted - tolerance] * 2, line=edge, showlegend=False)
        figure.add_scatter(
            **common,
            y=[wanted + tolerance] * 2,
            line=edge,
            name="inside the tolerance",
            legendgroup="tolerance",
            showlegend=number == 0,
            fill="tonexty",
            fillcolor=LIGHT.band,
        )
        figure.add_scatter(
            x=[from_s, to_s],
            y=[wanted, wanted],
            mode="lines",
            line={"color": LIGHT.ink, "width": 1.2, "dash": "dash"},
            name="planned",
            legendgroup="planned",
            showlegend=number == 0,
            hovertemplate=f"planned %{{y:.1f}} {curves.unit}<extra></extra>",
        )


def wanted_levels(
    curves: Curves, target: Target, end_s: float, offset_s: float
) -> list[tuple[float, float, float, float]]:
    """Give for each stage from when to when which value is wanted, and its tolerance; empty where none is."""
    from logger.compare.thermometers import OTHER_NAMES
    from logger.target import stage_spans

    if curves.kind == "flow" and not target.shot:
        return [
            (span.start_s - offset_s, span.end_s - offset_s, span.flow_g_s, stage.tolerance.flow_g_s)
            for stage, span in zip(target.stages, stage_spans(target), strict=True)
            if stage.planned_flow_g_s is not None
        ]
    if curves.kind != "temperature" or curves.key in OTHER_NAMES:
        return []
    starts_s = [stage.start_s - offset_s for stage in target.stages] or [0.0]
    wanted = [
        (stage.water_c if stage.water_c is not None else target.water_c, stage.tolerance.water_c)
        for stage in target.stages
    ] or [(target.water_c, target.tolerance.water_c)]
    return [
        (from_s, to_s, water_c, tolerance_c)
        for from_s, to_s, (water_c, tolerance_c) in zip(starts_s, [*starts_s[1:], end_s], wanted, strict=True)
        if water_c is not None
    ]


def _scale(figure: go.Figure, curves: Curves, target: Target) -> None:
    """Fit the axis to what the brews do, with room for the stages' names, not to one brew's spike."""
    low, high = reach(curves, target)
    room = max(high - low, 1e-6)
    figure.update_yaxes(range=[low - 0.03 * room, high + 0.14 * room])


def reach(curves: Curves, target: Target) -> tuple[float, float]:
    """Say from where to where a view's axis must go."""
    known = curves.values[np.isfinite(curves.values)]
    if not len(known):
        return 0.0, target.total_g if curves.kind == "weight" else 1.0
    if curves.kind == "weight":
        return 0.0, max(target.total_g, float(known.max()))
    if curves.kind == "flow":
        return 0.0, float(np.quantile(known, 0.999))
    if curves.kind == "off the plan":
        far_g = max(float(np.quantile(np.abs(known), 0.998)), 2 * target.tolerance.weight_g)
        return -far_g, far_g
    levels = wanted_levels(curves, target, float(curves.time_s[-1]), 0.0)
    edges = [edge for _, _, wanted, tolerance in levels for edge in (wanted - tolerance, wanted + tolerance)]
    low, high = np.quantile(known, (0.002, 0.998))
    return min([float(low), *edges]), max([float(high), *edges])


def _every(time_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Keep every so many points, the same ones for each curve: a band needs both its edges at each time."""
    stride = max(1, -(-len(time_s) // _BAND_POINTS))
    return np.round(time_s[::stride], 2), np.round(values[::stride], 3)

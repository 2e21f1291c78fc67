"""The figure of one brew: weight in its target's corridor, flow, and temperatures, on one time axis.

Drawn in the colours of the light theme; the page's script exchanges them for the dark one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from logger.curve import Floats
from logger.show.curves.curve_lines import draw_line
from logger.show.curves.thinning import between, brew_curves, broken_at_silence, thinned, zero_s
from logger.show.figures.axes import panel_title, panels, plain_text
from logger.show.figures.bed_figure import BED_HEIGHTS_PX, bed_end_s, draw_bed, has_bed
from logger.show.figures.brew_marks import WEIGHT_PX, WEIGHT_ROOM, mark_stages, name_stages, shade_pours
from logger.show.figures.event_marks import events_px, mark_events, shade_probes_out, shown_events
from logger.show.figures.palette import DASHES, LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare import Brew
    from logger.target import Target

_HEIGHTS_PX = {"weight": WEIGHT_PX, "flow": 110, **BED_HEIGHTS_PX, "temperature": 130}


def brew_figure(brew: Brew) -> go.Figure:
    """Draw one brew, or where none was found the whole recording, so that one can see why."""
    end_s = shown_end_s(brew)
    rows = _rows(brew, end_s)
    heights_px = {**_HEIGHTS_PX, "events": events_px(brew, end_s)}
    figure = panels([heights_px[name] for name in rows], end_s)
    time_s, weight_g, flow_g_s = brew_curves(brew.analysis)
    if brew.comparison:
        draw_corridor(figure, brew.comparison.target, end_s, plan_offset_s(brew))
    _draw_curve(figure, 1, "weight", *between(time_s, weight_g, 0.0, end_s), "g", width=2.5)
    _draw_curve(figure, rows["flow"], "flow", *between(time_s, flow_g_s, 0.0, end_s), "g/s", width=1.5)
    shade_pours(figure, brew)
    name_stages(figure, brew, end_s)
    mark_stages(figure, brew, end_s, _top_g(brew))
    _draw_wanted_flow(figure, rows["flow"], brew)
    _scale_weight_and_flow(figure, rows["flow"], brew)
    panel_title(figure, 1, "weight, g")
    panel_title(figure, rows["flow"], "flow, g/s")
    if "events" in rows:
        mark_events(figure, rows["events"], brew, end_s)
        panel_title(figure, rows["events"], "events")
    if "bed" in rows:
        draw_bed(figure, rows, brew, end_s)
    if "temperature" in rows:
        _draw_temperatures(figure, rows["temperature"], brew, end_s)
    return figure


def _rows(brew: Brew, end_s: float) -> dict[str, int]:
    """Number the panels that this brew needs, from the top."""
    names = ["weight", "events", "flow", "bed", "percolation", "temperature"]
    if not shown_events(brew, end_s):
        names.remove("events")
    if not has_bed(brew):
        names = [name for name in names if name not in BED_HEIGHTS_PX]
    if not brew.temperatures:
        names.remove("temperature")
    return {name: row for row, name in enumerate(names, 1)}


def shown_end_s(brew: Brew) -> float:
    """Say where the time axis ends: after the brew and after the plan, whichever is later."""
    analysis = brew.analysis
    final_s = float(analysis.time_s[-1]) if len(analysis.time_s) else 0.0
    water_s = final_s if analysis.end_s is None else analysis.end_s
    ends_s = [water_s - zero_s(analysis), bed_end_s(brew), 5.0]
    if brew.comparison:
        from logger.target import last_s

        ends_s.append(last_s(brew.comparison.target) - plan_offset_s(brew))
    return float(max(ends_s)) * 1.04


def plan_offset_s(brew: Brew) -> float:
    """Say what time the target's clock shows at the brew's first weight.

    For espresso that clock may start with the pump: its mark tells, and without a mark the target's middle.
    """
    from logger.target import first_weight_s

    if brew.comparison is None:
        return 0.0
    target, marks = brew.comparison.target, brew.recording.meta.marks
    if target.shot and target.shot.first_drip_s and "pump" in marks and brew.analysis.start_s is not None:
        return brew.analysis.start_s - marks["pump"]
    return first_weight_s(target)


def draw_corridor(
    figure: go.Figure, target: Target, end_s: float, offset_s: float, *, less_plan: bool = False
) -> None:
    """Draw a target's corridor as a band and its plan as a dashed line, into the first panel.

    :param offset_s: what the target's clock shows at the figure's zero
    :param less_plan: whether all is drawn less the planned weight
    """
    from logger.target import corridor, curve

    time_s = np.linspace(0.0, end_s, 600)
    low_g, high_g = corridor(target, time_s + offset_s)
    plan_g = curve(target, time_s + offset_s)
    if less_plan:
        low_g, high_g, plan_g = low_g - plan_g, high_g - plan_g, np.zeros_like(plan_g)
    edge = {"color": LIGHT.edge, "width": 1, "dash": "dot"}
    common: dict[str, Any] = {"x": time_s, "mode": "lines", "line": edge, "legendgroup": "corridor"}
    figure.add_scatter(**common, y=low_g, row=1, col=1, showlegend=False, hoverinfo="skip")
    figure.add_scatter(
        **common,
        y=high_g,
        row=1,
        col=1,
        name="corridor",
        fill="tonexty",
        fillcolor=LIGHT.band,
        hoverinfo="skip",
    )
    figure.add_scatter(
        x=time_s,
        y=plan_g,
        row=1,
        col=1,
        name="planned",
        mode="lines",
        line={"color": LIGHT.ink, "width": 1.2, "dash": "dash"},
        hovertemplate="planned %{y:.1f} g<extra></extra>",
    )


def _draw_curve(
    figure: go.Figure, row: int, name: str, time_s: Floats, values: Floats, unit: str, width: float
) -> None:
    line = {"color": LIGHT.curve, "width": width}
    draw_line(figure, row, name, time_s, values, unit, line, in_legend=row == 1)


def _draw_wanted_flow(figure: go.Figure, row: int, brew: Brew) -> None:
    """Draw each stage's planned flow over the pour that it belongs to."""
    start_s = zero_s(brew.analysis)
    lines = [
        (result.pours[0].start_s - start_s, result.pours[-1].end_s - start_s, result.stage.planned_flow_g_s)
        for result in (brew.comparison.stages if brew.comparison else ())
        if result.pours and result.stage.planned_flow_g_s is not None
    ]
    _draw_levels(figure, row, "flow wanted", lines, "g/s")


def _draw_wanted_temperature(figure: go.Figure, row: int, brew: Brew) -> None:
    """Draw each stage's water temperature from its first water to the next stage's."""
    comparison, end_s = brew.comparison, shown_end_s(brew)
    if comparison is None:
        return
    target = comparison.target
    starts_s = [stage.start_s for stage in target.stages]
    lines = [
        (start_s, until_s, target.water_c if stage.water_c is None else stage.water_c)
        for stage, start_s, until_s in zip(target.stages, starts_s, [*starts_s[1:], end_s], strict=False)
    ]
    if not target.stages:
        lines = [(0.0, end_s, target.water_c)]
    _draw_levels(figure, row, "water wanted", lines, "°C")


def _draw_levels(
    figure: go.Figure, row: int, name: str, lines: Sequence[tuple[float, float, float | None]], unit: str
) -> None:
    """Draw level dashed lines, each from a time to a time at a value."""
    times_s: list[float | None] = []
    values: list[float | None] = []
    for from_s, to_s, value in lines:
        if value is not None:
            times_s += [from_s, to_s, None]
            values += [value, value, None]
    if not times_s:
        return
    figure.add_scatter(
        x=times_s,
        y=values,
        row=row,
        col=1,
        name="planned",
        mode="lines",
        line={"color": LIGHT.ink, "width": 1.2, "dash": "dash"},
        showlegend=False,
        hovertemplate=f"{name} %{{y:.1f}} {unit}<extra></extra>",
    )


def _draw_temperatures(figure: go.Figure, row: int, brew: Brew, end_s: float) -> None:
    start_s = zero_s(brew.analysis)
    for index, (channel, (times_s, values_c)) in enumerate(brew.temperatures.items()):
        from_start_s = np.asarray(times_s, dtype=np.float64) - start_s
        time_s, value_c = between(from_start_s, np.asarray(values_c, dtype=np.float64), 0.0, end_s)
        time_s, value_c = thinned(*broken_at_silence(time_s, value_c))
        name = plain_text(channel)
        figure.add_scatter(
            x=time_s.astype(np.float32),
            y=value_c.astype(np.float32),
            row=row,
            col=1,
            name=f"{name}, °C",
            mode="lines",
            line={"color": LIGHT.lines[index % 4], "dash": DASHES[index % len(DASHES)], "width": 2},
            hovertemplate=f"{name} %{{y:.1f}} °C<extra></extra>",
        )
    _draw_wanted_temperature(figure, row, brew)
    shade_probes_out(figure, row, brew, end_s)
    figure.update_yaxes(row=row, col=1, rangemode="normal")
    panel_title(figure, row, "temperature, °C")


def _top_g(brew: Brew) -> float:
    """The highest weight that is shown."""
    return max(brew.analysis.total_g, brew.comparison.target.total_g if brew.comparison else 0.0, 1.0)


def _scale_weight_and_flow(figure: go.Figure, flow_row: int, brew: Brew) -> None:
    """Leave room over the weight for the names of the stages, and cut flow that is no pour's."""
    analysis = brew.analysis
    if analysis.start_s is None:
        return
    top_g = _top_g(brew)
    figure.update_yaxes(row=1, col=1, range=[-0.02 * top_g, WEIGHT_ROOM * top_g])
    peaks_g_s = [pour.peak_flow_g_s for pour in analysis.pours]
    top_g_s = max([peak for peak in peaks_g_s if np.isfinite(peak)], default=1.0)
    figure.update_yaxes(row=flow_row, col=1, range=[-0.04 * top_g_s, 1.15 * top_g_s])

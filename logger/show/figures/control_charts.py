"""Control charts of a practice set: one figure, brew by brew, with its limits."""

from __future__ import annotations

import copy
import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from logger.show.figures.axes import panel_title, panels, plain_text
from logger.show.figures.palette import LIGHT
from logger.show.words.practice_words import figure_name, shown_figures
from logger.show.words.wording import short_clock

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare.practice import ControlChart, Practice, Scatter

_CHART_PX = 260
_MANY = 100
_CLOCK_MARGIN_PX = 58
_STEPS_S = (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0)
_MOST_TICKS = 6


def charted(practice: Practice) -> list[Scatter]:
    """The figures that have a control chart: those in which a rule speaks first, then the least capable."""
    have = [scatter for scatter in shown_figures(practice.figures) if scatter.chart is not None]
    return sorted(have, key=lambda one: (not (one.chart and one.chart.signals), _capability(one)))


def _capability(scatter: Scatter) -> float:
    return scatter.cpk.value if math.isfinite(scatter.cpk.value) else math.inf


def control_chart(scatter: Scatter, practice: Practice) -> go.Figure:
    """Draw one figure brew by brew, with its centre, its limits and what the target allows.

    :raises ValueError: when there are too few brews for limits
    """
    import plotly.graph_objects as go

    chart = scatter.chart
    if chart is None:
        raise ValueError(f"{scatter.stage} {scatter.quantity} has too few brews for a control chart")
    ends = (0.5, len(chart.values) + 0.5)
    traces = [
        *_allowed(scatter, ends),
        _level(ends, chart.high, "limits, 3 sigma", "dash"),
        {**_level(ends, chart.low, "limits, 3 sigma", "dash"), "showlegend": False},
        _level(ends, chart.centre, "mean", "solid"),
        _points(chart, scatter.unit),
        *_signals(chart),
    ]
    unit = "min:s" if scatter.unit == "s" else scatter.unit
    title = f"{plain_text(figure_name(scatter, practice.target.method))}, {unit}"
    layout = copy.deepcopy(_chart_layout(len(chart.values)))
    layout["annotations"][0]["text"] = title
    layout["yaxis"].update(_value_axis(scatter, chart))
    if scatter.unit == "s":
        layout["margin"]["l"] = _CLOCK_MARGIN_PX
    return go.Figure(data=traces, layout=layout)


@lru_cache(maxsize=8)
def _chart_layout(count: int) -> dict[str, Any]:
    """What all charts of so many brews share; to make it anew for each takes a second for thirty."""
    figure = panels((_CHART_PX,), count + 0.5)
    ends = [0.5, count + 0.5]
    figure.update_layout(hovermode="closest", meta={"is_no_clock": True})
    figure.update_xaxes(
        range=ends,
        minallowed=ends[0],
        maxallowed=ends[1],
        tickmode="auto",
        tickvals=None,
        ticktext=None,
        tickformat="d",
        nticks=min(count + 1, 10),
    )
    panel_title(figure, 1, "")
    layout: dict[str, Any] = figure.layout.to_plotly_json()
    return layout


def _allowed(scatter: Scatter, ends: tuple[float, float]) -> list[dict[str, Any]]:
    if not scatter.counts:
        return []
    low, high = scatter.limits
    edge = {"color": LIGHT.edge, "width": 1, "dash": "dot"}
    common: dict[str, Any] = {
        "type": "scatter",
        "x": ends,
        "mode": "lines",
        "line": edge,
        "hoverinfo": "skip",
    }
    band = {"name": "inside the tolerance", "fill": "tonexty", "fillcolor": LIGHT.band}
    return [{**common, "y": [low, low], "showlegend": False}, {**common, "y": [high, high], **band}]


def _level(ends: tuple[float, float], value: float, name: str, dash: str) -> dict[str, Any]:
    return {
        "type": "scatter",
        "x": ends,
        "y": [value, value],
        "mode": "lines",
        "name": name,
        "line": {"color": LIGHT.ink, "width": 1.6, "dash": dash},
        "hoverinfo": "skip",
    }


def _points(chart: ControlChart, unit: str) -> dict[str, Any]:
    is_many = len(chart.values) > _MANY
    return {
        "type": "scatter",
        "x": [brew + 1 for brew in chart.brews],
        "y": [round(value, 3) for value in chart.values],
        "mode": "markers" if is_many else "lines+markers",
        "name": "brew",
        "line": {"color": LIGHT.curve, "width": 1.2},
        "marker": {"size": 4 if is_many else 7, "color": LIGHT.curve},
        "hovertemplate": f"brew %{{x}}: %{{y:.1f}} {unit}<extra></extra>",
    }


def _signals(chart: ControlChart) -> list[dict[str, Any]]:
    """Ring the brews at which a run rule speaks."""
    rules: dict[int, list[str]] = {}
    for signal in chart.signals:
        rules.setdefault(signal.brew, []).append(signal.rule)
    if not rules:
        return []
    value_of = dict(zip(chart.brews, chart.values, strict=True))
    brews = sorted(rules)
    line = {"width": 2.4, "color": LIGHT.alarm}
    return [
        {
            "type": "scatter",
            "x": [brew + 1 for brew in brews],
            "y": [round(value_of[brew], 3) for brew in brews],
            "mode": "markers",
            "name": "out of control",
            "marker": {"symbol": "square-open", "size": 15, "color": LIGHT.alarm, "line": line},
            "text": [", ".join(rules[brew]) for brew in brews],
            "hovertemplate": "brew %{x}: %{text}<extra></extra>",
        }
    ]


def _value_axis(scatter: Scatter, chart: ControlChart) -> dict[str, Any]:
    """Fit the axis to what is drawn; times are written as on the clock."""
    shown = [*chart.values, chart.low, chart.high, *(scatter.limits if scatter.counts else ())]
    room = max(max(shown) - min(shown), 0.1)
    low, high = min(shown) - 0.06 * room, max(shown) + 0.06 * room
    axis: dict[str, Any] = {"range": [low, high], "rangemode": "normal"}
    if scatter.unit == "s":
        step_s = next((step for step in _STEPS_S if (high - low) / step <= _MOST_TICKS), 120.0)
        values = [step_s * n for n in range(math.ceil(low / step_s), math.floor(high / step_s) + 1)]
        axis |= {"tickvals": values, "ticktext": [short_clock(value) for value in values]}
    return axis

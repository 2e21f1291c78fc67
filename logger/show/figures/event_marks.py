"""What is marked besides the pours: events and gaps, and a probe out of the water, each by shape and word."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.curve import Event, EventKind
from logger.show.curves.label_places import Side, lanes
from logger.show.curves.thinning import zero_s
from logger.show.figures.axes import plain_text
from logger.show.figures.palette import LIGHT
from logger.show.words.wording import event_words, shortened

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare import Brew
    from logger.curve.temperature.probe_out import ProbeOut

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
_MOST_LANES = 6
_LANE_PX = 20
_AT_ONCE_S = 2.0
"""A probe that the water has reached by then was in it from the first water on."""


def shown_events(brew: Brew, end_s: float) -> list[tuple[float, Event]]:
    """Give the events that lie on the time axis, with their times from the brew's start."""
    start_s = zero_s(brew.analysis)
    events = [(event.start_s - start_s, event) for event in brew.analysis.events]
    return [(time_s, event) for time_s, event in events if 0 <= time_s <= end_s]


def event_lanes(brew: Brew, end_s: float) -> int:
    """Say how many lines the events' words take."""
    places, _ = _event_places(shown_events(brew, end_s), end_s)
    return max(places, default=-1) + 1


def events_px(brew: Brew, end_s: float) -> int:
    """Say how high the panel of the events must be for its words to lie clear of each other."""
    return 20 + _LANE_PX * min(event_lanes(brew, end_s), _MOST_LANES)


def _event_places(events: list[tuple[float, Event]], end_s: float) -> tuple[list[int], list[Side]]:
    return lanes([time_s / end_s for time_s, _ in events], [event_words(event.kind) for _, event in events])


def mark_events(figure: go.Figure, row: int, brew: Brew, end_s: float) -> None:
    """Mark the events in a panel of their own, and frame the gaps in the weight.

    Where they are too many for their words, the marks stand alone; the words are in the table below.
    """
    events = shown_events(brew, end_s)
    places, sides = _event_places(events, end_s)
    count = max(places, default=0) + 1
    with_words = count <= _MOST_LANES
    figure.add_scatter(
        x=[time_s for time_s, _ in events],
        y=[place % _MOST_LANES for place in places],
        row=row,
        col=1,
        name="event",
        mode="markers+text" if with_words else "markers",
        marker={
            "symbol": [_SYMBOLS[event.kind] for _, event in events],
            "size": 10,
            "color": LIGHT.ink,
            "line": {"width": 1.6, "color": LIGHT.ink},
        },
        text=[
            f"{event_words(event.kind)} " if side == "left" else f" {event_words(event.kind)}"
            for side, (_, event) in zip(sides, events, strict=True)
        ],
        textposition=[f"middle {side}" for side in sides],
        textfont={"color": LIGHT.ink, "size": 12},
        hovertemplate="%{text}<extra></extra>",
        showlegend=False,
        cliponaxis=False,
    )
    deepest = min(count, _MOST_LANES) - 1
    figure.update_yaxes(
        row=row, col=1, range=[deepest + 0.8, -0.8], showticklabels=False, showgrid=False, ticks=""
    )
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
        y1=0.86,  # below the stages' names
        line={"color": LIGHT.quiet, "width": 1.2, "dash": "dash"},
    )


def shade_probes_out(figure: go.Figure, row: int, brew: Brew, end_s: float) -> None:
    """Frame the stretches in which a probe did not show the water, with its channel's name beside them."""
    start_s = zero_s(brew.analysis)
    stretches = [
        (
            max(out.start_s - start_s, 0.0),
            min(out.settled_s - start_s, end_s),
            f"{plain_text(shortened(channel, 14))} {_why_not(out, start_s)}",
        )
        for channel, thermometer in brew.thermometers.items()
        for out in thermometer.probe.out
    ]
    stretches = sorted(one for one in stretches if one[1] > one[0])
    words = [text for *_, text in stretches]
    places, sides = lanes([to_s / end_s for _, to_s, _ in stretches], words)
    for (from_s, to_s, _), text, lane, side in zip(stretches, words, places, sides, strict=True):
        figure.add_shape(
            type="rect",
            row=row,
            col=1,
            xref="x",
            yref="y domain",
            x0=from_s,
            x1=to_s,
            y0=0,
            y1=1,
            fillcolor=LIGHT.pour,
            line={"color": LIGHT.quiet, "width": 1.2, "dash": "dot"},
        )
        figure.add_annotation(
            row=row,
            col=1,
            xref="x",
            yref="y domain",
            x=to_s if side == "right" else from_s,
            y=0,
            text=text,
            showarrow=False,
            xanchor="left" if side == "right" else "right",
            yanchor="bottom",
            xshift=3 if side == "right" else -3,
            yshift=2 + 15 * lane,
            font={"size": 12, "color": LIGHT.quiet},
        )


def _why_not(out: ProbeOut, start_s: float) -> str:
    """Why a probe did not show the water: it was not in it, or was in all the time and still came up."""
    came_in = out.kind == "before" and out.end_s < start_s + _AT_ONCE_S
    return "still comes up" if came_in else "out of the water"

"""Where cups lie: strength against extraction with lines of equal brew ratio; for espresso, strength against
ratio.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from logger.cup.balance import KEPT_PER_DOSE, immersed_strength, percolated_strength
from logger.cup.known import Known, covariance, coverage_factor
from logger.cup.published import ESPRESSO_EXTRACTIONS, FILTER
from logger.show.figures.axes import FONT, plain_text
from logger.show.figures.figure import Figure, View
from logger.show.figures.palette import LIGHT
from logger.show.words.wording import NBSP, sentence

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.compare.cups import CupOfBrew
    from logger.curve import Floats

_HEIGHT_PX = 440
_MOST_NAMED = 20
_ELLIPSE_POINTS = 49
_INSIDE = 5.991**0.5
"""The radius within which 95 % of two normal numbers lie: chi-squared with 2 degrees of freedom, 0.95."""

_SYMBOLS = ("circle", "square", "diamond", "triangle-up", "cross")
_RATIOS = (14, 15, 16, 17, 18)

_Line = tuple[str, "Floats", "Floats"]


def cup_figures(cups: Sequence[CupOfBrew]) -> list[Figure]:
    """Make a figure for each kind of brew of which the place of a cup is known; none where none is."""
    filtered = [one for one in cups if _is_placed(one) and one.cup.method not in ("espresso", "immersion")]
    steeped = [one for one in cups if _is_placed(one) and one.cup.method == "immersion"]
    shots = [one for one in cups if one.cup.method == "espresso" and one.cup.strength and one.cup.ratio]
    numbers = {one.name: place for place, one in enumerate(cups, 1)} if len(cups) > 1 else {}
    figures = []
    if filtered:
        chart = _chart(filtered, numbers, percolated_strength)
        figures.append(_figure("percolation", "extraction", chart, len(filtered), _FILTER_CAPTION))
    if steeped:
        chart = _chart(steeped, numbers, immersed_strength)
        figures.append(_figure("immersion", "extraction", chart, len(steeped), _IMMERSION_CAPTION))
    if shots:
        chart = _espresso_chart(shots, numbers)
        figures.append(_figure("espresso", "brew ratio", chart, len(shots), _ESPRESSO_CAPTION))
    return figures


def _figure(kind: str, across: str, chart: go.Figure, count: int, besides: str) -> Figure:
    """Put a chart on the page with its caption: what to see, then what the lines and the field are."""
    many = "1 cup" if count == 1 else f"{count} cups"
    see = _SEE_ONE if count == 1 else _SEE_SHOTS if kind == "espresso" else _SEE_MANY
    label = f"Strength of {many} of {kind}, %, against {across}."
    caption = f"{sentence(kind)}, {many}. {see}; {_RING}. {besides}"
    return Figure(f"cup-{kind}", label, caption, (View(kind, kind, chart),))


_RING = "a ring holds the true place in 95 of 100 cases"
_SEE_ONE = "See where the cup lies among the dashed lines"
_SEE_MANY = (
    "See whether the cups differ along a dashed line, where more or less was extracted at one brew ratio, or "
    "across the lines, where the ratio changed"
)
_SEE_SHOTS = (
    "See whether the shots differ along a dashed line, where only their length changed, or across the lines, "
    "where the extraction did"
)
_BOUNDS = (
    f"Shaded: {FILTER.strength[0]:g} to {FILTER.strength[1]:g}{NBSP}% strength and "
    f"{FILTER.extraction[0]:g} to {FILTER.extraction[1]:g}{NBSP}% extraction "
    f"({FILTER.source}), a published taste, not a law."
)
_FILTER_CAPTION = (
    f"{_BOUNDS} Lines: brew ratios, for a bed that keeps {KEPT_PER_DOSE:g} g of water for each g of coffee "
    "(common practice)."
)
_IMMERSION_CAPTION = f"{_BOUNDS} Lines: brew ratios, all liquid counted, that in the grounds too."
_ESPRESSO_CAPTION = (
    "Lines: extractions of Lockhart's range (1957); no bounds of strength are published that fit "
    "espressos of "
    "all ratios."
)


def _is_placed(one: CupOfBrew) -> bool:
    return one.cup.strength is not None and one.cup.extraction is not None


def _chart(
    cups: Sequence[CupOfBrew], numbers: dict[str, int], strength_at: Callable[[float, float], float]
) -> go.Figure:
    """Draw strength against extraction."""
    places = [(one, _known(one.cup.extraction), _known(one.cup.strength)) for one in cups]
    x_range = _range([place for _, place, _ in places], FILTER.extraction, 1.5)
    y_range = _range([place for _, _, place in places], FILTER.strength, 0.12)
    figure = _empty("extraction, % of the coffee", "strength, %", x_range, y_range)
    _shade(figure)
    extractions = np.linspace(*x_range, 60)
    ratios = _ratios(one.cup.ratio.value for one in cups if one.cup.ratio is not None)
    lines: list[_Line] = [
        (f"1:{ratio}", extractions, np.array([strength_at(float(e), float(ratio)) for e in extractions]))
        for ratio in ratios
    ]
    _draw_lines(figure, lines, x_range, y_range, "brew ratio")
    _draw_places(figure, places, numbers, ("extraction", "strength"))
    return figure


def _espresso_chart(shots: Sequence[CupOfBrew], numbers: dict[str, int]) -> go.Figure:
    """Draw strength against beverage for each g of coffee."""
    places = [(one, _known(one.cup.ratio), _known(one.cup.strength)) for one in shots]
    x_range = _range([place for _, place, _ in places], (1.5, 2.5), 0.3)
    x_range = (max(x_range[0], 0.5), x_range[1])
    y_range = _range([place for _, _, place in places], (8.0, 11.0), 1.0)
    # All lines leave on the right, where their names stand.
    y_range = (min(y_range[0], ESPRESSO_EXTRACTIONS[0] / x_range[1] - 0.2), y_range[1])
    figure = _empty("beverage for each g of coffee, g", "strength, %", x_range, y_range)
    ratios = np.linspace(*x_range, 80)
    lines: list[_Line] = [
        (f"{extraction:g} %", ratios, np.asarray(extraction / ratios)) for extraction in ESPRESSO_EXTRACTIONS
    ]
    _draw_lines(figure, lines, x_range, y_range, "extraction")
    _draw_places(figure, places, numbers, ("ratio", "strength"))
    return figure


def _known(known: Known | None) -> Known:
    assert known is not None
    return known


def _range(places: Sequence[Known], published: tuple[float, float], room: float) -> tuple[float, float]:
    """Show the published bounds and all cups with their rings, and some room."""
    lows = [place.value - 1.3 * place.give_or_take for place in places]
    highs = [place.value + 1.3 * place.give_or_take for place in places]
    return max(min(*lows, published[0]) - room, 0.0), max(*highs, published[1]) + room


def _ratios(used: Iterable[float]) -> list[int]:
    """The brew ratios to draw lines for: whole ones about those that were used, at most six."""
    values = [*used, *_RATIOS]
    low, high = math.floor(min(values)), math.ceil(max(values))
    step = max(1, math.ceil((high - low) / 6))
    return list(range(low, high + 1, step))


def _empty(
    x_title: str, y_title: str, x_range: tuple[float, float], y_range: tuple[float, float]
) -> go.Figure:
    import plotly.graph_objects as go

    figure = go.Figure()
    axis = {
        "showline": True,
        "linecolor": LIGHT.quiet,
        "gridcolor": LIGHT.grid,
        "zeroline": False,
        "ticks": "outside",
        "tickcolor": LIGHT.quiet,
        "tickfont": {"color": LIGHT.ink},
        "fixedrange": True,
        "nticks": 7,
    }
    title = {"font": {"size": 13, "color": LIGHT.quiet}, "standoff": 8}
    figure.update_layout(
        template="none",
        meta={"is_no_clock": True},
        height=_HEIGHT_PX,
        margin={"l": 52, "r": 46, "t": 44, "b": 52},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": FONT, "size": 13, "color": LIGHT.ink},
        showlegend=False,
        hovermode="closest",
        hoverlabel={"bgcolor": LIGHT.paper, "bordercolor": LIGHT.quiet, "font": {"color": LIGHT.ink}},
        xaxis={**axis, "title": {**title, "text": x_title}, "range": list(x_range)},
        yaxis={**axis, "range": list(y_range)},
    )
    # Written over the axis, not along it: nobody turns their head to read.
    figure.add_annotation(
        text=y_title, showarrow=False, xref="paper", yref="paper", x=0, y=1, xanchor="left", yanchor="bottom",
        yshift=22, font={"size": 13, "color": LIGHT.quiet},
    )  # fmt: skip
    return figure


def _shade(figure: go.Figure) -> None:
    """Shade the published field."""
    figure.add_shape(
        type="rect",
        x0=FILTER.extraction[0],
        x1=FILTER.extraction[1],
        y0=FILTER.strength[0],
        y1=FILTER.strength[1],
        fillcolor=LIGHT.band,
        line={"color": LIGHT.edge, "width": 1, "dash": "dot"},
        layer="below",
    )


def _draw_lines(
    figure: go.Figure,
    lines: Sequence[_Line],
    x_range: tuple[float, float],
    y_range: tuple[float, float],
    what: str,
) -> None:
    """Draw dashed lines, each with its value where it leaves the figure."""
    for name, x, y in lines:
        seen = (y <= y_range[1]) & (y >= y_range[0])
        if not seen.any():
            continue
        figure.add_scatter(
            x=x[seen],
            y=y[seen],
            mode="lines",
            line={"color": LIGHT.quiet, "width": 1, "dash": "dash"},
            hovertemplate=f"{what} {name}<extra></extra>",
        )
        last = int(np.flatnonzero(seen)[-1])
        leaves_right = last == len(x) - 1
        figure.add_annotation(
            text=name,
            showarrow=False,
            x=float(x[last]),
            y=float(y[last]),
            xanchor="left" if leaves_right else "center",
            yanchor="middle" if leaves_right else "bottom",
            xshift=4 if leaves_right else 0,
            font={"size": 12, "color": LIGHT.quiet},
        )


def _draw_places(
    figure: go.Figure,
    places: Sequence[tuple[CupOfBrew, Known, Known]],
    numbers: dict[str, int],
    axes: tuple[str, str],
) -> None:
    """Draw each cup as a mark with its number, and the ring that holds its true place."""
    named = bool(numbers) and len(places) <= _MOST_NAMED
    for _, x, y in places:
        ring_x, ring_y = ring(x, y)
        figure.add_scatter(
            x=ring_x,
            y=ring_y,
            mode="lines",
            line={"color": LIGHT.curve, "width": 1.2},
            hoverinfo="skip",
        )
    for one, x, y in places:
        number = numbers.get(one.name, 0)
        name = plain_text(one.name)
        figure.add_scatter(
            x=[x.value],
            y=[y.value],
            mode="markers+text" if named else "markers",
            marker={"symbol": _SYMBOLS[number % len(_SYMBOLS)], "size": 9, "color": LIGHT.curve},
            text=[str(number)],
            textposition="top right",
            textfont={"color": LIGHT.ink, "size": 13},
            hovertemplate=(
                f"{f'{number}: ' if number else ''}{name}<br>{axes[1]} {y.value:.2f} "
                f"±{y.give_or_take:.2f} %<br>"
                f"{axes[0]} {x.value:.2f} ±{x.give_or_take:.2f}<extra></extra>"
            ),
        )


def ring(x: Known, y: Known) -> tuple[Floats, Floats]:
    """The ellipse that holds the truth of two numbers in 95 of 100 cases, as far as they are normal.

    :returns: its points, shape (n,) each
    """
    shared = covariance(x, y)
    matrix = np.array([[x.sd**2, shared], [shared, y.sd**2]])
    values, vectors = np.linalg.eigh(matrix)
    turn = np.linspace(0.0, 2.0 * np.pi, _ELLIPSE_POINTS)
    # Few readings make the ring wider, as they make the intervals of its two numbers.
    few = max(coverage_factor(one.dof) for one in (x, y)) / coverage_factor(math.inf)
    circle = np.vstack([np.cos(turn), np.sin(turn)]) * _INSIDE * few
    points = vectors @ (np.sqrt(np.maximum(values, 0.0))[:, None] * circle)
    return np.asarray(x.value + points[0]), np.asarray(y.value + points[1])

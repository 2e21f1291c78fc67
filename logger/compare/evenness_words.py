"""How even a practice set is, in words that so many brews can carry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivers.clock import clock_text

if TYPE_CHECKING:
    from logger.compare.comparison import Quantity
    from logger.compare.practice.results import (
        NextCup,
        Scatter,
        StageSpread,
    )

ENOUGH = 8
"""Fewer brews than this cannot support the word even. From 8 brews the next one falls, nine times in ten,
within about 2 standard deviations of their mean; from 3 only within about 3.4 (see ``likely_next``)."""

EVEN = 0.9
"""So likely the next cup is to be inside on every stage where brews are called even."""

_NOUNS: dict[Quantity, str] = {
    "start_s": "its start",
    "end_s": "its end",
    "to_g": "its weight",
    "poured_g": "its amount",
    "flow_g_s": "its flow",
    "water_c": "its water",
    "total_g": "its total",
    "first_drip_s": "its first drip",
    "drawdown_s": "its drawdown",
    "resistance_s": "its bed's resistance",
    "strength_percent": "its strength",
}


def noun_of(quantity: Quantity) -> str:
    """Name a figure of something: ``its weight``."""
    return _NOUNS[quantity]


def why_enough(n: int) -> str:
    """Say what so many brews can and cannot tell."""
    if n == 0:
        return "There is no brew to compare."
    if n < ENOUGH:
        brews = "One brew is" if n == 1 else f"{n} brews are"
        return f"{brews} too few to say how even the cups are: {ENOUGH} are the least."
    return f"{n} brews: each figure's likely range is where nine of ten next brews should fall."


def how_even(n: int, stages: Sequence[StageSpread], whole: Sequence[Scatter], cup: NextCup) -> str:
    """Say how even the brews are, as far as that can be told."""
    if n < ENOUGH:
        return f"{why_enough(n)} {_so_far(n, stages, whole)}".strip()
    skipped = [each for each in stages if each.n_missing]
    if skipped:
        first = skipped[0]
        return (
            f"Not even: {first.stage.name} was missing or ran into another in {first.n_missing} of {n} brews."
        )
    figures = _figures(stages, whole)
    outside = _widest(figures)
    if outside:
        name, figure = outside
        inside = f"is inside in {figure.n_inside} of {figure.n} brews"
        return f"Not even yet: {name}, {noun_of(figure.quantity)}, {inside}{_range(figure)}."
    if cup.inside.value < EVEN:
        return (
            f"Not even yet: each figure holds by itself, but all of them together in {cup.n_inside} of "
            f"{cup.n + cup.n_skipped} brews only."
        )
    untold = [(name, each) for name, each in figures if each.n_told < n]
    if untold:
        name, figure = untold[0]
        return (
            f"Even in what can be told; {name}, {noun_of(figure.quantity)}, could not be told in every brew."
        )
    return f"Even over {n} brews: in each figure the next one should be inside nine times in ten."


def _so_far(n: int, stages: Sequence[StageSpread], whole: Sequence[Scatter]) -> str:
    widest = _widest(_figures(stages, whole)) if n >= 3 else None
    if widest is None:
        return ""
    name, figure = widest
    noun = noun_of(figure.quantity)
    return f"So far {name}, {noun}, is the least sure: inside in {figure.n_inside} of {figure.n}."


def _figures(stages: Sequence[StageSpread], whole: Sequence[Scatter]) -> list[tuple[str, Scatter]]:
    """All figures that the target asks for, with whose they are.

    The total of a poured brew is its last stage's weight already.
    """
    found = [(each.stage.name, figure) for each in stages for figure in each.figures]
    whose = "the brew" if stages else "the shot"
    found += [(whose, figure) for figure in whole if not stages or figure.quantity != "total_g"]
    return [(name, figure) for name, figure in found if figure.judged]


def _widest(figures: Sequence[tuple[str, Scatter]]) -> tuple[str, Scatter] | None:
    """The figure whose next value may fall furthest outside; None where none does, as far as can be told."""
    return max(
        (each for each in figures if _reach(each[1]) > 1.0), key=lambda each: _reach(each[1]), default=None
    )


def _reach(figure: Scatter) -> float:
    """How far the likely range reaches from the middle of the limits, 1 being the limits themselves."""
    half = (figure.limits[1] - figure.limits[0]) / 2
    off = max(abs(edge - figure.wanted) for edge in figure.likely)
    return off / half if half > 0 and math.isfinite(off) else 0.0


def _range(figure: Scatter) -> str:
    low, high = (_value(figure, edge) for edge in figure.likely)
    return f"; the next likely {low} to {high}, wanted {_value(figure, figure.wanted)}"


def _value(figure: Scatter, value: float) -> str:
    return clock_text(value) if figure.unit == "s" else f"{value:.1f} {figure.unit}"

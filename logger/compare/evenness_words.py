"""How even a practice set is, in words that so many brews can carry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivers.clock import clock_text

if TYPE_CHECKING:
    from logger.compare.evenness import Scatter, StageSpread

ENOUGH = 8
"""Fewer brews than this cannot support the word even. From 8 brews the next one falls, nine times in ten,
within about 2 standard deviations of their mean; from 3 only within about 3.4 (see ``likely_next``)."""

_SAYS = {
    "start_s": ("starts", "late", "early", "its start", "s"),
    "end_s": ("ends", "late", "early", "its end", "s"),
    "to_g": ("ends", "heavy", "light", "its weight", "g"),
    "poured_g": ("pours", "too much", "too little", "its amount", "g"),
    "flow_g_s": ("runs", "too fast", "too slow", "its flow", "g/s"),
    "water_c": ("has water", "too hot", "too cool", "its water", "°C"),
    "total_g": ("comes to", "too much", "too little", "its amount", "g"),
    "first_drip_s": ("drips first", "late", "early", "its first drip", "s"),
}


def why_enough(n: int) -> str:
    """Say what so many brews can and cannot tell."""
    if n == 0:
        return "There is no brew to compare."
    if n < ENOUGH:
        brews = "One brew is" if n == 1 else f"{n} brews are"
        return f"{brews} too few to say how even the cups are: {ENOUGH} are the least."
    return f"{n} brews: each figure's likely range is where nine of ten next brews should fall."


def how_even(n: int, stages: Sequence[StageSpread], whole: Sequence[Scatter]) -> str:
    """Say how even the brews are, as far as that can be told."""
    if n < ENOUGH:
        return f"{why_enough(n)} {_so_far(n, stages, whole)}".strip()
    figures = _figures(stages, whole)
    untold = [(name, each) for name, each in figures if each.n_told < each.n or each.n < ENOUGH]
    outside = _widest(figures)
    skipped = [each for each in stages if each.n_missing]
    if skipped:
        first = skipped[0]
        return (
            f"Not even: {first.stage.name} was missing or ran into another in {first.n_missing} of {n} brews."
        )
    if outside:
        name, figure = outside
        inside = f"is inside in {figure.n_inside} of {figure.n} brews"
        return f"Not even yet: {name}, {_named(figure)}, {inside}{_range(figure)}."
    if untold:
        name, figure = untold[0]
        return f"Even in what can be told; {name}, {_named(figure)}, could not be told in every brew."
    return f"Even over {n} brews: in each figure the next one should be inside nine times in ten."


def change_first(n: int, stages: Sequence[StageSpread], whole: Sequence[Scatter]) -> str:
    """Say the one thing to work on first; empty where nothing stands out or the brews are too few."""
    if n < 3:
        return ""
    skipped = max(stages, key=lambda each: each.n_missing, default=None)
    if skipped is not None and skipped.n_missing * 2 > n:
        name, times = skipped.stage.name, skipped.n_missing
        return f"{name} is missing or runs into another in {times} of {n} brews: start there."
    widest = _widest(_figures(stages, whole))
    if widest is None:
        return ""
    name, figure = widest
    verb, over, under, noun, unit = _SAYS[figure.quantity]
    if _is_steady(figure):
        how = f"{abs(figure.bias):.1f} {unit} {over if figure.bias > 0 else under}"
        return f"{name} {verb} {how} on average, brew after brew ({figure.n}): change that on purpose."
    return (
        f"{name} varies most, {noun} by {figure.sd:.1f} {unit} (sd of {figure.n} brews): practise it alone."
    )


def _so_far(n: int, stages: Sequence[StageSpread], whole: Sequence[Scatter]) -> str:
    widest = _widest(_figures(stages, whole)) if n >= 3 else None
    if widest is None:
        return ""
    name, figure = widest
    return f"So far {name}, {_named(figure)}, is the least sure: inside in {figure.n_inside} of {figure.n}."


def _figures(stages: Sequence[StageSpread], whole: Sequence[Scatter]) -> list[tuple[str, Scatter]]:
    """All figures with whose they are; the total of a poured brew is its last stage's weight already."""
    found = [(each.stage.name, figure) for each in stages for figure in each.figures]
    return found + [("the brew", figure) for figure in whole if not stages or figure.quantity != "total_g"]


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


def _is_steady(figure: Scatter) -> bool:
    """Whether it is off on average by more than it varies."""
    return abs(figure.bias) > figure.sd


def _named(figure: Scatter) -> str:
    return _SAYS[figure.quantity][3]


def _range(figure: Scatter) -> str:
    low, high = (_value(figure, edge) for edge in figure.likely)
    return f"; the next likely {low} to {high}, wanted {_value(figure, figure.wanted)}"


def _value(figure: Scatter, value: float) -> str:
    if figure.quantity.endswith("_s") and not figure.quantity.endswith("_g_s"):
        return clock_text(value)
    return f"{value:.1f} {_SAYS[figure.quantity][4]}"

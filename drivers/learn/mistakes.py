"""Which typed loads look wrong: two that were swapped, one that was mistyped or typed in another unit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from drivers.learn.capture import Load
from drivers.learn.fitting import Fit

_ROUND_COST = 4.0
"""A scale that costs less is round enough to be believed against what was typed."""

Best = Callable[[tuple[Load, ...]], Fit | None]


def mistyped(loads: Sequence[Load], best_of: Best, unit: str) -> tuple[str, tuple[float, ...]] | None:
    """Find one mistake that would explain why nothing fits: two loads swapped, or one typed wrong.

    :param best_of: gives the best fit for other values of the same loads
    :returns: what to say, and the values as they should be; None where no single mistake explains it
    """
    values = [load.value for load in loads]
    for one, other in combinations(range(len(values)), 2):
        if values[one] == values[other]:
            continue
        swapped = list(values)
        swapped[one], swapped[other] = swapped[other], swapped[one]
        if _fits_roundly(best_of(_with(loads, swapped))):
            text = (
                f"Loads {one + 1} and {other + 1} look swapped: everything fits if {values[other]:g} {unit} "
                f"came before {values[one]:g} {unit}."
            )
            return text, tuple(swapped)
    if len(values) < 4:
        return None
    for left in range(len(values)):
        rest = tuple(load for at, load in enumerate(loads) if at != left)
        fit = best_of(rest)
        if fit is None or not _fits_roundly(fit):
            continue
        values_there = fit.number.values(fit.kind.frames)
        there = (
            fit.kind.time_s >= loads[left].start_s + 0.45 * (loads[left].end_s - loads[left].start_s)
        ) & (fit.kind.time_s <= loads[left].end_s)
        read = float(np.nanmedian(fit.loads_of(values_there[there]))) if there.any() else float("nan")
        if not np.isfinite(read):
            continue
        right = list(values)
        right[left] = round(read, 1)
        return _told(left, values[left], read, unit), tuple(right)
    return None


def _told(at: int, typed: float, read: float, unit: str) -> str:
    text = (
        f"Load {at + 1} was typed as {typed:g} {unit} and reads as {read:.1f} {unit}, while all others agree"
    )
    for factor, words in ((1000.0, "kg"), (1000 * 0.028349523125, "ounces"), (1000 * 0.45359237, "pounds")):
        if typed and abs(read / (typed * factor) - 1.0) < 0.02:
            return f"{text}: it looks like {words}."
    return f"{text}."


def _fits_roundly(one: Fit | None) -> bool:
    if one is None or one.scale is None or one.inside < 0.93:
        return False
    return one.cost < _ROUND_COST and one.worst < 0.006 * one.span + one.step


def _with(loads: Sequence[Load], values: Sequence[float]) -> tuple[Load, ...]:
    return tuple(Load(value, load.start_s, load.end_s) for load, value in zip(loads, values, strict=True))

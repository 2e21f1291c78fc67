"""Which typed loads look wrong: two that were swapped, one that was mistyped or typed in another unit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.scales import ODD

_ROUND_COST = 4.0
"""A scale that costs less is round enough to be believed against what was typed."""

_CLOSELY, _FEWEST_STEPS = 0.001, 100.0
"""Share of their span by which loads are off the line of an odd factor at most; and how many steps it has."""

_FEWEST_ON_LINE = 3
"""Loads that lie on one line by no chance."""

_FINE_STEPS, _FINE_OF_LOAD, _FINE_UNITS = 0.3, 4e-4, 0.05
_COARSE, _SLIP, _SLIP_UNITS, _CLEARER = 5.0, 0.005, 1.2, 0.5
"""How far off well typed loads are: in steps, as a share, in g or °C; and how far a slip is, beside that."""

_SIGMAS = 3.0
"""How many times as far as others are off their own line a load may be off it where that goes far beyond."""

Best = Callable[[tuple[Load, ...], Load | None], Fit | None]
ReadAt = Callable[[Fit, Load], float]


def mistyped(
    loads: Sequence[Load], best_of: Best, read_at: ReadAt, unit: str
) -> tuple[str, tuple[float, ...]] | None:
    """Find one mistake that would explain why nothing fits: two loads swapped, or one typed wrong.

    :param best_of: gives the best fit for other values of the same loads, or without one of them
    :param read_at: reads a fit at a load that was left out
    :returns: what to say, and the values as they should be; None where no single mistake explains it
    """
    values = [load.value for load in loads]
    for one, other in combinations(range(len(values)), 2):
        if values[one] == values[other]:
            continue
        swapped = list(values)
        swapped[one], swapped[other] = swapped[other], swapped[one]
        if _fits_closely(best_of(_with(loads, swapped), None), len(values)):
            text = (
                f"Loads {one + 1} and {other + 1} look swapped: everything fits if {values[other]:g} {unit} "
                f"came before {values[one]:g} {unit}."
            )
            return text, tuple(swapped)
    if len(values) < 4:
        return None
    found: list[tuple[tuple[bool, float], str, tuple[float, ...]]] = []
    for left in range(len(values)):
        rest = tuple(load for at, load in enumerate(loads) if at != left)
        fit = best_of(rest, loads[left])
        if fit is None or not _fits_closely(fit, len(rest)):
            continue
        read = read_at(fit, loads[left])
        if not abs(read - values[left]) > _SLIP * abs(values[left]) + fit.step:
            continue
        right = list(values)
        right[left] = round(read, 1)
        likelihood = (fit.scale is None, fit.worst / fit.span)
        found.append((likelihood, _told(left, values[left], read, unit), tuple(right)))
    return min(found)[1:] if found else None


def odd_one_out(one: Fit, loads: Sequence[Load], unit: str) -> str:
    """Say which load was typed wrongly where all others agree far better; nothing where none was.

    :param one: the chosen number, which fits all loads well enough
    """
    typed = np.array([load.value for load in loads])
    slips = [at for at in range(len(loads)) if _is_slip(one, typed, at)]
    if not slips:
        return ""
    rests = sorted((_rest_off(one, typed, at), at) for at in slips)
    if len(rests) > 1 and rests[0][0] > _CLEARER * rests[1][0]:
        return ""
    at = rests[0][1]
    return _told(at, float(typed[at]), float(_without(one, typed, at)[at]), unit)


def _is_slip(one: Fit, typed: np.ndarray, at: int) -> bool:
    """Say whether one load is far off what the others make of it, and those are not off each other."""
    rest = np.arange(len(typed)) != at
    if one.scale is None and rest.sum() < _FEWEST_ON_LINE:
        return False
    off = np.abs(_without(one, typed, at) - typed)
    fine = _FINE_STEPS * one.step + 0.5 * one.noise_units + _FINE_OF_LOAD * np.abs(typed) + _FINE_UNITS
    coarse = np.maximum(_COARSE * fine, np.maximum(_SLIP * np.abs(typed), _SLIP_UNITS))
    if one.scale is None:
        coarse = np.maximum(coarse, _SIGMAS * _leverage(typed, at) * float(fine[rest].max()))
    return bool((off[rest] <= fine[rest]).all() and off[at] > coarse[at])


def _leverage(typed: np.ndarray, at: int) -> float:
    """Give how many times as far off as the other loads themselves a line through them is at one load.

    A heavy load is a long way from three light ones, and their line may be far off there.
    """
    rest = np.delete(typed, at)
    away = float(((rest - rest.mean()) ** 2).sum())
    return float(np.sqrt(1.0 / rest.size + (typed[at] - rest.mean()) ** 2 / away)) if away else np.inf


def _rest_off(one: Fit, typed: np.ndarray, at: int) -> float:
    """Give how far off all the other loads are without one of them, g or °C."""
    off = np.abs(_without(one, typed, at) - typed)
    return float(np.delete(off, at).max())


def _without(one: Fit, typed: np.ndarray, at: int) -> np.ndarray:
    """Read the levels of all loads by what all but one of them say, g or °C."""
    if one.scale is not None:
        return np.asarray(one.loads_of(one.levels))
    rest = np.arange(len(typed)) != at
    slope, offset = np.polyfit(typed[rest], one.levels[rest], 1)
    with np.errstate(divide="ignore", invalid="ignore"):  # all others may be alike
        return np.asarray((one.levels - offset) / slope)


def _told(at: int, typed: float, read: float, unit: str) -> str:
    text = (
        f"Load {at + 1} was typed as {typed:g} {unit} and reads as {read:.1f} {unit}, while all others agree"
    )
    for factor, words in ((1000.0, "kg"), (1000 * 0.028349523125, "ounces"), (1000 * 0.45359237, "pounds")):
        if typed and abs(read / (typed * factor) - 1.0) < 0.02:
            return f"{text}: it looks like {words}."
    return f"{text}."


def _fits_closely(one: Fit | None, count: int) -> bool:
    """Say whether a fit of so many loads is no chance: of a round scale, or very close to a line."""
    if one is None or one.inside < 0.93:
        return False
    if one.scale is None:
        closely = _CLOSELY if count > _FEWEST_ON_LINE else 0.5 * _CLOSELY
        is_fine = one.span > _FEWEST_STEPS * one.step and one.inside > 0.97 and one.cost <= ODD + 1.0
        return is_fine and one.worst < closely * one.span + 0.3 * one.step
    return one.cost < _ROUND_COST and one.worst < 0.006 * one.span + one.step


def _with(loads: Sequence[Load], values: Sequence[float]) -> tuple[Load, ...]:
    return tuple(Load(value, load.start_s, load.end_s) for load, value in zip(loads, values, strict=True))

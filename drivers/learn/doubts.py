"""How sure a reading is and why, which further load would decide, and which typed loads look wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from drivers.learn.capture import Capture, Load
from drivers.learn.choosing import Choice
from drivers.learn.fitting import Fit
from drivers.learn.proving import Proof

_FEWEST_STEPS = 15.0
_OUNCE_G = 28.349523125
_ROUND_COST = 4.0
"""A scale that costs less is round enough to be believed against what was typed."""

Best = Callable[[tuple[Load, ...]], Fit | None]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a description may be used.

    :param reasons: why, or why not, each a sentence
    :param further_g: a load that would decide; None where none would help
    """

    is_sure: bool
    reasons: tuple[str, ...]
    further_g: float | None = None


def judged(capture: Capture, choice: Choice, one: Fit, proof: Proof) -> Verdict:
    """Say how sure the best reading is."""
    doubts = list(_doubts(capture, choice, one, proof))
    further = _further_load(capture.loads) if doubts and choice.rivals else None
    if doubts:
        return Verdict(False, tuple(doubts), further)
    return Verdict(True, tuple(_grounds(capture, one, proof)))


def _doubts(capture: Capture, choice: Choice, one: Fit, proof: Proof) -> Sequence[str]:
    loads, unit = capture.loads, _unit(capture)
    doubts = []
    if choice.rivals:
        doubts.append(f"{len(choice.rivals)} other readings fit these loads nearly as well.")
    if one.step > 0 and one.span / one.step < _FEWEST_STEPS:
        doubts.append(f"The loads are only {one.span / one.step:.0f} steps of the display apart.")
    allowed = 0.012 if one.scale is None else 0.008
    for load, level in zip(loads, proof.levels, strict=True):
        limit = allowed * one.span + 1.5 * one.step + 2.0 * one.noise_units
        if not abs(level - load.value) <= limit:
            doubts.append(f"{load.value:g} {unit} reads as {level:.2f} {unit}.")
    if one.scale is None and len(loads) <= 3 and one.worst > 0.003 * one.span + one.step:
        doubts.append("With three loads, a factor that is not round cannot be told from chance.")
    finer = [
        each for each, how in choice.copies if how == "copy" and each.step + each.noise_units < 0.4 * one.step
    ]
    if one.step > 0.12 and finer:
        doubts.append("Other bytes say the same in finer steps; it is not clear which of the two is shown.")
    if proof.fewest < 4 or proof.readings < 0.8 * len(one.kind.frames):
        doubts.append(f"Only {proof.readings} of {len(one.kind.frames)} packets can be read in this way.")
    if one.inside < 0.93:
        doubts.append(f"{100 * (1 - one.inside):.0f} % of the packets do not fit.")
    if capture.quantity == "weight" and max(abs(load.value) for load in loads) < 5.0:
        doubts.append("All loads are under 5 g: were they typed in kg? They are wanted in g.")
    if one.scale is None and one.zero_kind == "none" and _is_power_of_ten(one.slope / _OUNCE_G):
        doubts.append("Everything fits if what was typed was in ounces. Loads are wanted in g.")
    return doubts


def _grounds(capture: Capture, one: Fit, proof: Proof) -> Sequence[str]:
    unit = _unit(capture)
    grounds = [
        f"{len(capture.loads)} loads lie on one straight line, the worst {one.worst:.2g} {unit} off it.",
        f"{proof.readings} packets were read by the finished description, {proof.rejected} refused.",
    ]
    if one.scale is None:
        share = 100.0 * abs(one.slope_error / one.slope)
        grounds.append(f"One {unit} makes {one.slope:.6g} counts, uncertain by {share:.2g} %.")
    return grounds


def _further_load(loads: Sequence[Load]) -> float:
    """Give a load in the middle of the widest gap, or beyond the last, where chance hardly fits again."""
    values = sorted({load.value for load in loads})
    gaps = [(high - low, (high + low) / 2) for low, high in pairwise(values)]
    width, middle = max(gaps, default=(0.0, 0.0))
    beyond = values[-1] * 1.6
    return round(middle if width > 0.4 * (beyond - values[-1]) else beyond, -1) or round(beyond, 1)


def _unit(capture: Capture) -> str:
    return "g" if capture.quantity == "weight" else "°C"


def _is_power_of_ten(value: float) -> bool:
    if value <= 0:
        return False
    exponent = np.log10(value)
    return bool(abs(exponent - round(exponent)) < 0.0006)


# What was typed


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
    for factor, words in ((1000.0, "kg"), (_OUNCE_G, "ounces"), (1000 * 0.45359237, "pounds")):
        if typed and abs(read / (typed * factor) - 1.0) < 0.02:
            return f"{text}: it looks like {words}."
    return f"{text}."


def _fits_roundly(one: Fit | None) -> bool:
    if one is None or one.scale is None or one.inside < 0.93:
        return False
    return one.cost < _ROUND_COST and one.worst < 0.006 * one.span + one.step


def _with(loads: Sequence[Load], values: Sequence[float]) -> tuple[Load, ...]:
    return tuple(Load(value, load.start_s, load.end_s) for load, value in zip(loads, values, strict=True))

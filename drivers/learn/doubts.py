"""How sure a reading is and why, which further load would decide, and which typed loads look wrong."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from drivers.learn.capture import Capture, Load
from drivers.learn.choosing import Choice
from drivers.learn.decimals import are_decimals_open
from drivers.learn.fitting import Fit
from drivers.learn.proving import Proof
from drivers.learn.signs import is_sign_weak, may_be_sign
from drivers.learn.widths import capacity, is_order_open

_FEWEST_STEPS = 15.0
_OUNCE_G = 28.349523125
_ROUND_COST = 4.0
"""A scale that costs less is round enough to be believed against what was typed."""

_LEAST_CAPACITY = {"weight": 1000.0, "temperature": 105.0}
"""What any instrument of the kind can say, g or °C."""

_LEAST_OF_FRAMES = 0.94
_MOST_MISSED_CHECKED = 0.006
_MOST_MISSED, _MOST_ASTRAY = 0.045, 0.02
"""Shares of packets that damage alone explains."""

_OF_BYTES = (256, 512, 65536)
"""Parts of a gram that a byte of something else, taken for a lower one, makes."""

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


def judged(
    capture: Capture, choice: Choice, one: Fit, proof: Proof, unread: tuple[int, int], *, is_checked: bool
) -> Verdict:
    """Say how sure the best reading is.

    :param unread: how many packets hold the load and are not read, and of how many
    :param is_checked: whether only undamaged ones are among those
    """
    doubts = [*_doubts(capture, choice, one, proof), *_read_doubts(proof, unread, is_checked)]
    further = _further_load(capture.loads) if doubts and choice.rivals else None
    if further is None and _width_doubts(capture, one):
        further = _beyond_bytes(one, capture)
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
        each
        for each, how in choice.copies
        if how == "copy" and each.step < 0.45 * one.step and each.inside > 0.93
        and each.noise_units < 1.5 * one.noise_units + 0.3 * one.step
    ]  # fmt: skip
    if one.step > 0.12 and finer:
        doubts.append("Other bytes say the same in finer steps; it is not clear which of the two is shown.")
    doubts += _width_doubts(capture, one)
    if (most := _most_frames(choice)) and proof.readings < _LEAST_OF_FRAMES * most:
        doubts.append(f"Only {proof.readings} of {most} frames begin as it was found.")
    if one.scale is not None and one.scale.unit == "g" and one.scale.scale.denominator in _OF_BYTES:
        doubts.append("Whole steps fit as well: the lowest byte may be another one.")
    if is_sign_weak(one, loads):
        doubts.append("It is not clear which byte is the sign; a load below zero would tell.")
    if may_be_sign(one):
        doubts.append("A byte beside the number may be its sign; a load below zero would tell.")
    if are_decimals_open(one, loads, capture.quantity):
        doubts.append("A byte beside the number may count its decimals; some smaller load would tell.")
    if proof.fewest < 4 or proof.readings < 0.8 * len(one.kind.frames):
        doubts.append(f"Only {proof.readings} of {len(one.kind.frames)} packets can be read in this way.")
    if one.inside < 0.93:
        doubts.append(f"{100 * (1 - one.inside):.0f} % of the packets do not fit.")
    if capture.quantity == "weight" and max(abs(load.value) for load in loads) < 5.0:
        doubts.append("All loads are under 5 g: were they typed in kg? They are wanted in g.")
    if one.scale is None and one.zero_kind == "none" and _is_power_of_ten(one.slope / _OUNCE_G):
        doubts.append("Everything fits if what was typed was in ounces. Loads are wanted in g.")
    return doubts


def _most_frames(choice: Choice) -> int:
    """Give how many frames of the same length there are where they are cut elsewhere; 0 for packets."""
    best = choice.best
    if best is None or not best.kind.is_cut:
        return 0
    return max(
        (
            len(one.kind.frames)
            for one, _ in choice.copies
            if (one.kind.stream, one.kind.length) == (best.kind.stream, best.kind.length) and one.inside > 0.9
        ),
        default=0,
    )


def _read_doubts(proof: Proof, unread: tuple[int, int], is_checked: bool) -> Sequence[str]:
    """Doubt a description that leaves out packets with a load in them, or reads some far from it."""
    doubts = []
    missed, held = unread
    if missed > _MOST_MISSED * held or (is_checked and missed > _MOST_MISSED_CHECKED * held + 2):
        doubts.append(f"{missed} of {held} packets look as if they held the weight, and are not read.")
    if proof.astray > _MOST_ASTRAY * proof.at_rest + 1:
        doubts.append(f"{proof.astray} of {proof.at_rest} readings at rest are far from their load.")
    return doubts


def _width_doubts(capture: Capture, one: Fit) -> Sequence[str]:
    """Doubt a number that has no room for what such an instrument must be able to say."""
    most, unit = capacity(one), _unit(capture)
    if most < _LEAST_CAPACITY[capture.quantity]:
        return [f"The number that was found ends at {most:.0f} {unit}; a load beyond that would tell more."]
    if is_order_open(one):
        return ["No load has needed a second byte, and it may stand on either side."]
    return []


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


def _beyond_bytes(one: Fit, capture: Capture) -> float:
    """Give a load that needs more bytes than those seen to move."""
    most = capacity(one)
    if most < _LEAST_CAPACITY[capture.quantity]:
        return float(math.ceil(1.2 * most))
    return float(math.ceil(300.0 / abs(one.per_unit)))


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

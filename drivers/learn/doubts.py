"""How sure a reading is and why, which further load would decide, and which typed loads look wrong."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from drivers.learn.capture import Capture, Load
from drivers.learn.choosing import Choice, kind_rows
from drivers.learn.copies import follows_from, is_another_as_good
from drivers.learn.decimals import are_decimals_open, is_count_constant
from drivers.learn.fitting import Fit
from drivers.learn.needless import is_lowest_busy
from drivers.learn.proving import Proof
from drivers.learn.sign_doubts import is_sign_weak, may_be_sign
from drivers.learn.widths import capacity, is_order_open

_FEWEST_STEPS = 15.0
_OUNCE_G = 28.349523125

_LEAST_CAPACITY = {"weight": 1000.0, "temperature": 105.0}
"""What any instrument of the kind can say, g or °C."""

_WELL_KNOWN = 0.13
"""By how much a factor that is measured may leave a heavy load unsure, g or °C, or by half a step."""
_HEAVY = {"weight": 700.0, "temperature": 100.0}
"""A dripper with its server and the water, g; boiling water, °C."""

_OFF_LINE = 0.004
"""Share of their span by which loads may be off a line that nothing else speaks for."""

_COARSE_G = 2.9
"""A tenth of an ounce is the coarsest step of a scale that is brewed with."""

_CHANCE_PASSES = 2
"""Damaged packets that a check of one byte lets pass."""

_FEWEST_BELOW = 5
"""Undamaged packets below zero that show a sign."""

_STILL = 0.93
"""Share of packets in which a byte is the same, from which on it is none that counts."""

_HALVED = tuple(1 << power for power in range(1, 17))
"""Denominators of scales by which a number without its lowest byte counts as roundly."""

_LEAST_OF_FRAMES = 0.94
_MOST_MISSED_CHECKED = 0.006
_MOST_MISSED, _MOST_ASTRAY = 0.045, 0.02
"""Shares of packets that damage alone explains."""

_OF_BYTES = (256, 512, 65536)
"""Parts of a gram that a byte of something else, taken for a lower one, makes."""


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
    capture: Capture, choice: Choice, one: Fit, clean: Fit | None, proof: Proof, unread: tuple[int, int],
    *, is_checked: bool, taken: frozenset[int] = frozenset(), is_strong: bool = False,
) -> Verdict:  # fmt: skip
    """Say how sure the best reading is.

    :param clean: the same in undamaged packets alone, where those are known
    :param taken: places of its check
    :param unread: how many packets hold the load and are not read, and of how many
    :param is_strong: whether its check lets hardly any damaged one pass
    :param is_checked: whether only undamaged ones are among those
    """
    doubts = [
        *_doubts(capture, choice, one, clean, proof, taken, is_strong),
        *_read_doubts(proof, unread, is_checked),
    ]
    further = _further_load(capture.loads) if doubts and choice.rivals else None
    if further is None and _width_doubts(capture, one, taken):
        further = _beyond_bytes(one, capture)
    if doubts:
        return Verdict(False, tuple(doubts), further)
    return Verdict(True, tuple(_grounds(capture, one, proof)))


def _doubts(
    capture: Capture, choice: Choice, one: Fit, clean: Fit | None, proof: Proof, taken: frozenset[int],
    is_strong: bool,
) -> Sequence[str]:  # fmt: skip
    loads, unit = capture.loads, _unit(capture)
    seen = one if clean is None else clean
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
    if one.scale is None and one.worst > _OFF_LINE * one.span + min(one.step, 0.005 * one.span):
        doubts.append(f"The loads are up to {one.worst:.2g} {unit} off a straight line, which is too much.")
    if one.scale is None and (off := _error_at_most(one, capture)) > max(0.5 * one.step, _WELL_KNOWN):
        doubts.append(f"The factor may be off by {off:.2g} {unit} on a heavy load; a heavier one would tell.")
    finer = [
        each
        for each, how in choice.copies
        if how == "copy" and each.scale is not None and each.step < 0.7 * one.step and each.inside > 0.93
        and each.worst < one.worst + 0.5 * one.step and not follows_from(each, one)
        and each.noise_units < 1.5 * one.noise_units + 0.3 * one.step
    ]  # fmt: skip
    if one.step > 0.12 and finer:
        doubts.append("Other bytes say the same in finer steps; it is not clear which of the two is shown.")
    if capture.quantity == "weight" and one.step > _COARSE_G:
        doubts.append(f"Its steps of {one.step:.0f} g are coarse: there may be finer digits.")
    if is_another_as_good(seen, [each for each, how in choice.copies if how == "copy"]):
        doubts.append("Other bytes hold the load as well and lag behind these, or these behind them.")
    doubts += _width_doubts(capture, one, taken)
    if clean is None and (most := _most_frames(choice)) and proof.at_rest < _LEAST_OF_FRAMES * most:
        doubts.append(f"Only {proof.at_rest} of {most} frames at rest begin as it was found.")
    if _is_lowest_byte_still(one):
        doubts.append("The lowest byte of the number hardly ever changes: it may be another one.")
    if one.scale is not None and one.scale.unit == "g" and one.scale.scale.denominator in _OF_BYTES:
        doubts.append("Whole steps fit as well: the lowest byte may be another one.")
    if clean is not None and (beyond := _beyond_all(clean)) > (0 if is_strong else _CHANCE_PASSES):
        doubts.append(f"{beyond} packets that are in order read as what is far from all loads.")
    if is_sign_weak(seen, loads, *([] if clean is None else [_FEWEST_BELOW])):
        doubts.append("It is not clear which byte is the sign; a load below zero would tell.")
    if may_be_sign(one) if clean is None else may_be_sign(clean, 1):
        doubts.append("A byte beside the number may be its sign; a load below zero would tell.")
    if are_decimals_open(seen, loads, capture.quantity, taken) or is_count_constant(seen, loads):
        doubts.append("A byte beside the number may count its decimals; loads of other sizes would tell.")
    if proof.fewest < 4 or proof.readings < 0.8 * len(one.kind.frames):
        doubts.append(f"Only {proof.readings} of {len(one.kind.frames)} packets can be read in this way.")
    if one.inside < 0.93:
        doubts.append(f"{100 * (1 - one.inside):.0f} % of the packets do not fit.")
    if capture.quantity == "weight" and max(abs(load.value) for load in loads) < 5.0:
        doubts.append("All loads are under 5 g: were they typed in kg? They are wanted in g.")
    if one.scale is None and one.zero_kind == "none" and _is_power_of_ten(one.slope / _OUNCE_G):
        doubts.append("Everything fits if what was typed was in ounces. Loads are wanted in g.")
    return doubts


def _beyond_all(clean: Fit) -> int:
    """Count packets in order that say nothing, or something far beyond all loads."""
    values, levels = clean.number.values(clean.kind.frames), clean.levels
    reach = float(np.ptp(levels)) + 6.0 * clean.noise
    with np.errstate(invalid="ignore"):
        return int((~((values >= levels.min() - reach) & (values <= levels.max() + reach))).sum())


def _is_lowest_byte_still(one: Fit) -> bool:
    """Say whether the byte that should change most is nearly always the same, while the number moves."""
    number, frames = one.number, one.kind.frames
    if number.encoding not in ("integer", "bcd") or number.width < 2:
        return False
    if number.encoding == "integer" and one.scale is not None and one.scale.scale.denominator not in _HALVED:
        return False  # that the whole counts roundly tells that it belongs to it
    place = number.end - 1 if number.order == "big" else number.offset
    above = place - 1 if number.order == "big" else place + 1
    usual = np.bincount(frames[:, place]).max() / frames.shape[0]
    moving = np.bincount(frames[:, above]).max() / frames.shape[0]
    if number.encoding == "bcd" and is_lowest_busy(one):
        return False
    return bool(usual > _STILL and moving < 0.8)


def _error_at_most(one: Fit, capture: Capture) -> float:
    """Give how far off a reading of a heavy load may be for want of a better factor, g or °C."""
    heavy = max(max(abs(load.value) for load in capture.loads), _HEAVY[capture.quantity])
    return abs(one.slope_error / one.slope) * heavy


def _most_frames(choice: Choice) -> int:
    """Give how many frames of the same length hold a load where they are cut elsewhere; 0 for packets."""
    best = choice.best
    if best is None or not best.kind.is_cut:
        return 0
    return max(
        (
            int(kind_rows(one.kind, one)[np.concatenate(one.kind.settled)].sum())
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


def _width_doubts(capture: Capture, one: Fit, taken: frozenset[int]) -> Sequence[str]:
    """Doubt a number that has no room for what such an instrument must be able to say."""
    most, unit = capacity(one), _unit(capture)
    if most < _LEAST_CAPACITY[capture.quantity]:
        return [f"The number that was found ends at {most:.0f} {unit}; a load beyond that would tell more."]
    if is_order_open(one, taken):
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

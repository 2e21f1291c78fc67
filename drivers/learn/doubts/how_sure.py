"""How sure a reading is and why, which further load would decide, and which typed loads look wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from drivers.learn.captures.capture import UNIT_OF, Capture, Load
from drivers.learn.checks.check import EITHER, Check, with_either
from drivers.learn.description.proving import STEP, Proof, is_led_to
from drivers.learn.doubts.copy_doubts import doubts_of_copies
from drivers.learn.doubts.factor_doubts import (
    HEAVY,
    OUNCE_G,
    doubts_of_factor,
    is_odd_beside_round,
    is_power_of_ten,
)
from drivers.learn.doubts.far_beyond import doubts_of_far
from drivers.learn.doubts.further import (
    below_nought,
    between_or_beyond,
    no_whole_number,
    of_another_size,
)
from drivers.learn.doubts.sign_doubts import is_sign_weak, may_be_sign
from drivers.learn.doubts.unread import Unread
from drivers.learn.doubts.width_doubts import doubts_of_width, is_lowest_byte_still, may_have_finer_digits
from drivers.learn.numbers.carried import is_carried
from drivers.learn.numbers.decimals import are_decimals_open, is_count_constant
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.halves import has_lower_byte, has_lower_digits
from drivers.learn.numbers.last_digits import doubts_of_digits
from drivers.learn.numbers.lowest_told import is_lowest_anything, is_lowest_told
from drivers.learn.outside.framed import Outside
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.kinds import on_way
from drivers.learn.packets.line_makes import LineMake
from drivers.learn.weight.choosing import Choice

_FEWEST_STEPS = 15.0

_FEWEST_BELOW = 2
"""Undamaged packets below zero that show a sign."""

_FEWEST_READ = 3
"""Readings of each load."""

_LEAST_OF_FRAMES, _LEAST_INSIDE = 0.94, 0.93
_MOST_MISSED_CHECKED = 0.006
_MOST_MISSED, _DAMAGED = 0.045, 0.02
"""Shares of packets that damage alone explains; of all, on the mean."""

_SIGMAS = 2.0
"""Standard deviations of a count that chance leaves open."""

_OF_BYTES = {256: 1, 512: 1, 65536: 2}
"""Parts of a gram that bytes of something else, taken for lower ones, make; and how many."""


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
    capture: Capture, choice: Choice, one: Fit, clean: Fit | None, proof: Proof, unread: Unread,
    outside: Outside, joined: ByteStream | None,
) -> Verdict:  # fmt: skip
    """Say how sure the best reading is.

    :param clean: the same in undamaged packets alone, where those are known
    :param unread: what holds the load and is not read
    :param outside: of its packets
    :param joined: the stream, for frames that were cut out of one
    """
    check = outside.check
    taken = check.places if check is not None else frozenset[int]()
    seen = one if clean is None else clean
    beside = [each for each, _ in choice.copies]
    doubts = [
        *_doubts_of_choice(choice, capture.loads),
        *(_Doubt(*each) for each in doubts_of_copies(choice, one, seen, taken)),
        *_doubts_of_scale(capture, one, proof, seen, taken),
        *(_Doubt(*each) for each in doubts_of_width(seen, beside, capture.quantity, taken)),
        *_doubts_of_bytes(one, clean, capture, taken),
        *_doubts_of_sign(one, clean, capture.loads, taken),
        *_doubts_of_decimals(seen, capture, taken),
        *(_Doubt(text, no_whole_number(capture.loads)) for text in doubts_of_digits(one, taken)),
        *_doubts_of_reading(choice, one, clean, proof),
        *(_Doubt(text) for text in doubts_of_far(capture, one, clean, outside, proof, joined)),
        *_read_doubts(proof, unread),
        *_doubts_of_check(seen, check),
        *_doubts_of_unit(capture, one),
    ]
    if not doubts:
        return Verdict(True, tuple(_grounds(capture, one, proof)))
    further = next((doubt.further for doubt in doubts if doubt.further is not None), None)
    return Verdict(False, tuple(doubt.text for doubt in doubts), further)


@dataclass(frozen=True, slots=True)
class _Doubt:
    """What is not certain, a sentence, and the load that would tell, g or °C."""

    text: str
    further: float | None = None


def _doubts_of_choice(choice: Choice, loads: Sequence[Load]) -> Iterator[_Doubt]:
    """Doubt whether it is these bytes, and not others that do not agree with them."""
    if choice.rivals:
        text = f"{len(choice.rivals)} other readings fit these loads nearly as well."
        yield _Doubt(text, between_or_beyond(loads))


def _doubts_of_scale(
    capture: Capture, one: Fit, proof: Proof, seen: Fit, taken: frozenset[int]
) -> Iterator[_Doubt]:
    """Doubt what a step stands for."""
    loads, unit = capture.loads, UNIT_OF[capture.quantity]
    if one.step > 0 and one.span / one.step < _FEWEST_STEPS:
        yield _Doubt(f"The loads are only {one.span / one.step:.0f} steps of the display apart.")
    allowed = 0.012 if one.scale is None else 0.008
    for load, level in zip(loads, proof.levels, strict=True):
        limit = allowed * one.span + 1.5 * one.step + 2.0 * one.noise_units
        if np.isnan(level):
            yield _Doubt(f"Nothing that has come at {load.value:g} {unit} can be read.")
        elif not abs(level - load.value) <= limit:
            yield _Doubt(f"{load.value:g} {unit} reads as {level:.2f} {unit}.")
    if capture.quantity == "weight" and may_have_finer_digits(seen, loads, taken):
        yield _Doubt(f"Its steps of {one.step:.0f} g are coarse: there may be finer digits.")
    if is_odd_beside_round(one, capture):
        text = "The factor is nearly round, and one that is not fits clearly better."
        yield _Doubt(text, HEAVY[capture.quantity])
    if one.scale is None:
        yield from (_Doubt(*each) for each in doubts_of_factor(one, capture))


def _doubts_of_bytes(
    one: Fit, clean: Fit | None, capture: Capture, taken: frozenset[int]
) -> Iterator[_Doubt]:
    """Doubt whether all its bytes belong to the number, and whether there are others."""
    loads = capture.loads
    if is_lowest_byte_still(one):
        text = "The lowest byte of the number hardly ever changes: it may be another one."
        yield _Doubt(text, no_whole_number(loads))
    if is_lowest_told(one):
        yield _Doubt("The lowest byte comes again whenever those above it do: it may be a check of them.")
    if is_lowest_anything(one):
        yield _Doubt("Nought is half a byte above nought: the lowest byte may be something else.")
    has_digits = has_lower_digits(one if clean is None else clean, taken)
    if has_digits or has_lower_byte(one, loads, capture.quantity, taken):
        yield _Doubt("Digits of its own may stand below it: that byte moves with the load.")
    below = _OF_BYTES.get(one.scale.scale.denominator, 0) if one.scale and one.scale.unit == "g" else 0
    if below and not is_carried(one, below):
        yield _Doubt("Whole steps fit as well: the lowest byte may be another one.")


def _doubts_of_sign(
    one: Fit, clean: Fit | None, loads: Sequence[Load], taken: frozenset[int]
) -> Iterator[_Doubt]:
    """Doubt how it says that it is below zero."""
    below = below_nought(max(abs(load.value) for load in loads))
    weak = is_sign_weak(one, loads) if clean is None else is_sign_weak(clean, loads, _FEWEST_BELOW)
    if weak:
        yield _Doubt("It is not clear which byte is the sign; a load below zero would tell.", below)
    if may_be_sign(one) if clean is None else may_be_sign(clean, 1, taken):
        yield _Doubt("A byte beside the number may be its sign; a load below zero would tell.", below)


def _doubts_of_decimals(seen: Fit, capture: Capture, taken: frozenset[int]) -> Iterator[_Doubt]:
    """Doubt how many decimals it has."""
    loads = capture.loads
    if are_decimals_open(seen, loads, capture.quantity, taken) or is_count_constant(seen, loads):
        text = "A byte beside the number may count its decimals; loads of other sizes would tell."
        yield _Doubt(text, of_another_size(loads, HEAVY[capture.quantity]))


def _doubts_of_reading(choice: Choice, one: Fit, clean: Fit | None, proof: Proof) -> Iterator[_Doubt]:
    """Doubt a description by which too few packets can be read."""
    if clean is None and (most := _most_frames(choice)) and proof.at_rest < _LEAST_OF_FRAMES * most:
        yield _Doubt(f"Only {proof.at_rest} of {most} frames at rest begin as it was found.")
    if proof.fewest < _FEWEST_READ or proof.readings < 0.8 * len(one.kind.frames):
        yield _Doubt(f"Only {proof.readings} of {len(one.kind.frames)} packets can be read in this way.")
    if isinstance(one.kind.make, LineMake) and not one.kind.make.is_read:
        yield _Doubt("No pattern reads this number alone: another part of the line is read in its place.")
    if one.inside < _LEAST_INSIDE and (fitting := _fitting(one)) < _LEAST_INSIDE:
        yield _Doubt(f"{100 * (1 - fitting):.0f} % of the packets do not fit.")


def _fitting(one: Fit) -> float:
    """Give the share of packets in which a number is in place, or led to from there: a vessel may be heavier
    than all loads.
    """
    values = one.number.values(one.kind.frames)
    known = np.isfinite(values)
    good = rows_in_place(one)[known]
    led = is_led_to(values[known], good, STEP * float(np.ptp(one.reached)))
    return float((good | (led & on_way(one.kind)[known])).sum()) / len(values)


def _doubts_of_unit(capture: Capture, one: Fit) -> Iterator[_Doubt]:
    """Doubt the unit of what was typed."""
    if capture.quantity == "weight" and max(abs(load.value) for load in capture.loads) < 5.0:
        yield _Doubt("All loads are under 5 g: were they typed in kg? They are wanted in g.")
    if one.scale is None and one.zero_kind == "none" and is_power_of_ten(one.slope / OUNCE_G):
        yield _Doubt("Everything fits if what was typed was in ounces. Loads are wanted in g.")


def _most_frames(choice: Choice) -> int:
    """Give how many frames of the same length hold a load where they are cut elsewhere; 0 for packets."""
    best = choice.best
    if best is None or not best.kind.is_cut:
        return 0
    return max(
        (
            int(rows_in_place(one)[np.concatenate(one.kind.settled)].sum())
            for one, _ in choice.copies
            if (one.kind.stream, one.kind.length) == (best.kind.stream, best.kind.length) and one.inside > 0.9
        ),
        default=0,
    )


def _read_doubts(proof: Proof, unread: Unread) -> Iterator[_Doubt]:
    """Doubt a description that leaves out packets with a load in them, or reads some far from it."""
    missed, held = unread.missed, unread.held
    if missed > _MOST_MISSED * held + 2 or unread.in_order > _MOST_MISSED_CHECKED * held + 3:
        yield _Doubt(f"{missed} of {held} packets look as if they held the weight, and are not read.")
    if proof.astray > _at_most(_DAMAGED * proof.at_rest):
        yield _Doubt(f"{proof.astray} of {proof.at_rest} readings at rest are far from their load.")


def _at_most(mean: float) -> float:
    """Give how often something happens at most that happens so often on the mean: a Poisson's variance."""
    return mean + _SIGMAS * math.sqrt(mean) + 1.0


def _doubts_of_check(seen: Fit, check: Check | None) -> Iterator[_Doubt]:
    """Doubt which sum a check is, where each would begin with a value of its own: no description takes both.

    :param seen: the number in undamaged packets
    """
    if check is None or check.kind not in EITHER or check.is_plain:
        return
    frames = seen.kind.frames
    if with_either(check, frames).or_kinds:
        return
    other = replace(check, kind=EITHER[check.kind], init=0, xorout=0)
    if np.unique(check.written(frames) ^ other.computed(frames)).size == 1:
        yield _Doubt(
            "The check may be a sum, or an exclusive or: a heavier load would tell.", HEAVY["weight"]
        )


def _grounds(capture: Capture, one: Fit, proof: Proof) -> Sequence[str]:
    unit = UNIT_OF[capture.quantity]
    grounds = [
        f"{len(capture.loads)} loads lie on one straight line, the worst {one.worst:.2g} {unit} off it.",
        f"{proof.readings} packets were read by the finished description, {proof.rejected} refused.",
    ]
    if one.scale is None:
        share = 100.0 * abs(one.slope_error / one.slope)
        grounds.append(f"One {unit} makes {one.slope:.6g} counts, uncertain by {share:.2g} %.")
    return grounds

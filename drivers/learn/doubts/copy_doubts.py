"""Whether other bytes that say the same may be what the instrument shows: finer, round or prompter ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from drivers.learn.doubts.factor_doubts import may_be_off_by
from drivers.learn.doubts.further import below_nought
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.grids import grid_of
from drivers.learn.numbers.halves import has_lower_digits
from drivers.learn.numbers.scales import round_scales
from drivers.learn.packets.kinds import usual_gap_s
from drivers.learn.packets.line_makes import has_known_check
from drivers.learn.weight.choosing import Choice
from drivers.learn.weight.copies import METRIC, are_metric_and_not, follows_from, is_another_as_good
from drivers.learn.weight.ladders import is_made_of
from drivers.learn.weight.protected import is_unprotected_elsewhere
from drivers.learn.weight.rising import only_rises
from drivers.learn.weight.same_packets import is_rounded_from
from drivers.learn.weight.shown import (
    COARSEST_SHOWN,
    is_round_copy,
    is_rounded_only,
    is_soon_behind,
)
from drivers.learn.weight.two_units import (
    are_ounces_beside_division,
    may_be_shown_in_grams,
)

_FINE, _LIGHTER = 0.12, 0.4
_MOSTLY, _APART = 0.93, 0.02
_CLEARLY_FINER, _FINER_THAN = 0.55, 0.7
"""Steps of a number that tells more, of those of another one."""

_NOISES = 2.0
"""Standard deviations of one packet by which a display may differ."""

_ALWAYS, _HALF = 0.99, 0.5
"""Shares of packets: in which two numbers are the same but for damage; of moving ones, ahead of the other."""

_SELDOM_HZ, _FAR_OFTENER = 3.0, 4.0
"""Packets a second that are too few to pour by, and how many times as many others must be."""

_FEWEST_BELOW, _EXACTLY = 2, 0.01
"""Packets in which a copy is below nought that are no damage; and how near it is then to what is shown above,
in steps, where one of them tells."""

_ON_STEP = 0.05
"""By how much of a step a float is off it that has been rounded to it."""

_ANYTHING = 0.2
"""Standard deviation of a byte that may be anything, in steps of the one above it: 0.29, less by chance."""

_FINER = "Other bytes say the same in finer steps; it is not clear which of the two is shown."
_ROUND = "Other bytes say the same in round steps; it is not clear which of the two is shown."
_OTHER_COUNTS = "Other bytes hold the load in other counts; it is not clear which of the two is shown."
_IN_GRAMS = (
    "Other bytes say the same in grams, rounded by themselves; it is not clear which of the two is shown."
)
_RISES = "It has never fallen, as the largest weight so far would not; a lighter load would tell."
_OFTENER = "Another characteristic sends the load far more often; it is not clear which of the two is shown."
_BELOW = "Other bytes go below zero where these do not: their sign is missing; a load below zero would tell."
_PROMPTER = "Other bytes hold the load as well and lag behind these, or these behind them."


def doubts_of_copies(
    choice: Choice, one: Fit, seen: Fit, taken: frozenset[int]
) -> Iterator[tuple[str, float | None]]:
    """Give what speaks for other bytes, each a sentence, and the load that would tell, g or °C.

    :param seen: the number in undamaged packets, where those are known
    :param taken: places of its check
    """
    copies = [
        each for each, how in choice.copies
        if how == "copy" and not (each.kind.is_like(one.kind) and each.number.covers <= taken)
    ]  # fmt: skip
    later = [each for each, how in choice.copies if how != "copy"]
    if one.is_bare:
        apart = [each for each in copies if not is_rounded_only(each, one)]
        if any(is_round_copy(each, one) and not _is_besides(each, one) for each in (*later, *apart)):
            yield _ROUND, None
        if any(_are_other_counts(each, one) for each, _ in choice.copies):
            yield _OTHER_COUNTS, None
    if only_rises(one) and any(_are_as_fine(each, one) and _may_be_largest_of(one, each) for each in copies):
        yield _RISES, round(_LIGHTER * float(one.loads_of(one.levels).max()))
    others = [each for each in copies if not is_made_of(each, one)]
    is_checked = bool(taken) or has_known_check(one.kind.make)
    if any(
        (_is_finer_elsewise(each, one) or (one.step > _FINE and _is_finer(each, one, taken)))
        and not (is_checked and is_unprotected_elsewhere(each, one))
        and not are_ounces_beside_division(each, one) and not _is_on_steps_of(each, one)
        for each in others
    ):  # fmt: skip
        yield _FINER, None
    elif any(may_be_shown_in_grams(each, one) or _may_be_finer_grams(each, one) for each in others):
        yield _IN_GRAMS, None
    if any(_goes_below_alone(each, seen, 1 if taken else _FEWEST_BELOW) for each in copies):
        yield _BELOW, below_nought(float(one.loads_of(one.levels).max()))
    if is_another_as_good(seen, copies):
        yield _PROMPTER, None
    if not taken and any(_is_far_oftener(each, one) for each in copies):
        yield _OFTENER, None


def _is_besides(each: Fit, one: Fit) -> bool:
    """Say whether ounces are sent besides bare counts that a message is made for.

    A converter's own packets hold its counts and nothing else; a weight before its tare is in round steps.
    """
    if each.scale is None or each.scale.unit in METRIC or one.kind.length == one.number.width:
        return False
    off = min(abs(abs(one.slope) / some.per_unit - 1.0) for some in round_scales("weight"))
    return off >= may_be_off_by(one)


def _goes_below_alone(each: Fit, one: Fit, fewest: int) -> bool:
    """Say whether a copy of the same packets goes below nought where a number says as much above it.

    :param fewest: packets that show it; one will do where none is damaged, and the copy has two bytes for it
    """
    fewest = fewest if each.number.width > 1 else _FEWEST_BELOW
    number = each.number
    if number.encoding != "integer" or number.mask or each.zero_kind != "none" or not _is_beside(each, one):
        return False
    signed = number if number.signed else replace(number, signed="twos-complement")
    frames = one.kind.frames
    theirs, mine = each.loads_of(signed.values(frames)), one.loads_of(one.number.values(frames))
    rounded = 0.5 * (one.step + each.step)
    apart = 2.0 * rounded + _NOISES * (one.noise_units + each.noise_units)
    with np.errstate(invalid="ignore"):
        off = np.abs(theirs + mine)
        is_clear = (np.abs(theirs - mine) > apart) | ((off < _EXACTLY * rounded) & (fewest == 1))
        is_opposite = (theirs < 0.0) & (off <= rounded) & is_clear
    return int(is_opposite.sum()) >= fewest


def _is_far_oftener(each: Fit, one: Fit) -> bool:
    """Say whether another characteristic holds the load as well, and sends it far more often than seldom.

    What is silent while nothing changes is sent as often as it is while something does.
    """
    if each.kind.stream == one.kind.stream:
        return False
    gap_s, others_s = (usual_gap_s(some.kind.time_s) for some in (one, each))
    return gap_s * _SELDOM_HZ > 1.0 and gap_s > _FAR_OFTENER * others_s and each.inside > _MOSTLY


def _may_be_finer_grams(each: Fit, one: Fit) -> bool:
    """Say whether whole grams beside ounces have lower digits, which check masses have not shown at rest."""
    return are_metric_and_not(each, one) and has_lower_digits(each)


def _is_finer(each: Fit, one: Fit, taken: frozenset[int]) -> bool:
    """Say whether other bytes hold the load in clearly finer steps, and not by bytes that are no digits."""
    if each.step >= _FINER_THAN * one.step or _inside_above(each, one) <= _MOSTLY or _count_alike(each, one):
        return False
    if _step_in_place(each) >= _FINER_THAN * one.step:
        return False
    if each.is_bare and is_round_copy(one, each) and not _are_same_bytes(each, one):
        return False  # a display is coarser than what its converter counts
    if each.worst >= one.worst + 0.5 * one.step or each.noise_units >= (
        1.5 * one.noise_units + 0.3 * one.step
    ):
        return False
    if _are_same_bytes(each, one) and (each.number.covers & taken or _adds_noise(each, one)):
        return False
    fits_better = each.worst < 0.5 * one.worst and one.worst > 0.2 * one.step
    return fits_better or not follows_from(each, one)


def _inside_above(each: Fit, one: Fit) -> float:
    """Give the share of packets in which a copy is in place, of those above nought if less are."""
    if each.inside > _MOSTLY or not _is_beside(each, one) or each.kind.time_s.size != one.kind.time_s.size:
        return each.inside
    above = one.loads_of(one.number.values(one.kind.frames)) > one.step
    return float(rows_in_place(each)[above].mean()) if above.any() else each.inside


def _count_alike(each: Fit, one: Fit) -> bool:
    """Say whether a count stands for the same in two numbers, and the first has no decimals besides."""
    return each.scale == one.scale and each.grid >= 1.0


def _step_in_place(each: Fit) -> float:
    """Give the step of a number, g or °C, where it is in place: few values of it are soon outnumbered by
    damaged ones.
    """
    said = each.number.values(each.kind.frames[rows_in_place(each)])
    return grid_of(said, each.number) / abs(each.per_unit)


def _is_on_steps_of(each: Fit, one: Fit) -> bool:
    """Say whether a float says multiples of the step of another number only: its digits hide its own step."""
    if each.number.encoding != "float" or one.step <= 0.0:
        return False
    steps = each.loads_of(each.number.values(each.kind.frames[rows_in_place(each)])) / one.step
    return bool((np.abs(steps - np.round(steps)) < _ON_STEP).mean() > _ALWAYS)


def _are_same_bytes(each: Fit, one: Fit) -> bool:
    """Say whether a number is another one and more, in the same frames or in the same ones cut otherwise."""
    if each.kind.is_like(one.kind):
        return bool(each.number.covers & one.number.covers)
    if not (each.kind.is_cut and one.kind.is_cut and each.kind.stream == one.kind.stream):
        return False
    return each.number.encoding == one.number.encoding and each.number.width > one.number.width


def _adds_noise(each: Fit, one: Fit) -> bool:
    """Say whether a lower byte is anything at rest, while the number above it stands still: none of its own.

    A number so noisy would take those above it along.
    """
    return one.noise_units == 0.0 and each.noise_units > _ANYTHING * one.step


def _is_finer_elsewise(each: Fit, one: Fit) -> bool:
    """Say whether a number in another unit tells more, in finer steps, and is not worked out from it."""
    if each.scale is None or one.scale is None or each.scale.unit == one.scale.unit or each.inside <= _MOSTLY:
        return False
    is_finer = each.step < _CLEARLY_FINER * one.step and each.worst < one.worst + one.step
    if not is_finer or not _is_beside(each, one):
        return False
    # What is worked out from it is off by half a step of its own; a few packets on the way tell.
    return not follows_from(each, one) or not is_rounded_from(each, one)


def _are_as_fine(each: Fit, one: Fit) -> bool:
    """Say whether other bytes of the same packets hold the load as well: finer bare counts, or as finely in
    the same unit.
    """
    is_as_good = each.inside > _MOSTLY and each.worst < one.worst + one.step and _is_beside(each, one)
    if each.scale is None or one.scale is None:
        return is_as_good and each.scale is None and each.step < one.step
    return is_as_good and each.scale.unit == one.scale.unit and each.step < 1.01 * one.step


def _may_be_largest_of(one: Fit, each: Fit) -> bool:
    """Say whether a number that has only risen may be the largest so far of another one.

    One that is ahead of the other is not. Nor is one that has never been another: a second weight (a net one
    that nobody has tared) stands beside many, and the weight before what is made of it. And a message keeps
    to one order of bytes for a weight and the largest of it.
    """
    if _are_of_other_orders(one, each):
        return False
    if each.kind.time_s.size != one.kind.time_s.size:
        return True
    rows = rows_in_place(one) & rows_in_place(each)
    mine, theirs = (some.loads_of(some.number.values(some.kind.frames))[rows] for some in (one, each))
    is_same = each.scale is not None and (np.abs(mine - theirs) < 0.5 * one.step).mean() > _ALWAYS
    if is_same and one.number.offset < each.number.offset:
        return False
    theirs = np.median((theirs, np.roll(theirs, 1), np.roll(theirs, -1)), axis=0)  # damage would stay
    near = one.step + each.step + _NOISES * (one.noise_units + each.noise_units)
    moves = np.abs(mine - np.roll(mine, 1)) > near
    ahead = np.abs(mine - np.maximum.accumulate(theirs)) > near
    return not moves.any() or bool(ahead[moves].mean() < _HALF)


def _are_of_other_orders(one: Fit, each: Fit) -> bool:
    """Say whether two integers of some bytes stand in a message with their bytes in another order each."""
    numbers = one.number, each.number
    if any(number.encoding != "integer" or number.width < 2 for number in numbers):
        return False
    return one.number.order != each.number.order


def _are_other_counts(each: Fit, one: Fit) -> bool:
    """Say whether other bytes are bare counts of another factor: one of the two is the converter's own.

    On another characteristic, what is shown may lag far behind a converter.
    """
    is_elsewhere = each.kind.stream != one.kind.stream
    if each.scale is not None or not (is_elsewhere or _is_beside(each, one)):
        return False
    is_other = abs(each.slope / one.slope - 1.0) > _APART
    is_as_good = each.inside > _MOSTLY and each.worst < one.worst + 0.8 * each.step + each.noise_units
    is_soon = is_elsewhere or is_soon_behind(each, one)
    # A clock goes up as loads do, with far more noise.
    return is_other and is_as_good and is_soon and max(each.step, each.noise_units) <= COARSEST_SHOWN


def _is_beside(each: Fit, one: Fit) -> bool:
    """Say whether other bytes of the same packets, or another number of the same lines, are meant."""
    if one.kind.make is not None:
        return each.kind.make is not None and each.kind.stream == one.kind.stream
    return each.kind.is_beside(one.kind) and not each.number.covers & one.number.covers

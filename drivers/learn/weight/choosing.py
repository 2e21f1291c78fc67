"""Which of the numbers that follow the loads is the weight: no coarse view of it, no copy that lags."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.decimals import with_decimals
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.last_digits import without_idle_digits
from drivers.learn.outside.picking import goes_on
from drivers.learn.packets.kinds import Kind, usual_gap_s
from drivers.learn.signs.below_zero import settle_sign
from drivers.learn.weight.copies import (
    ENOUGH_INSIDE,
    agree,
    are_metric_and_not,
    is_rounded,
    tells_more,
)
from drivers.learn.weight.costs import coarseness, roughness, total_cost
from drivers.learn.weight.first_of_same import first_of_same
from drivers.learn.weight.grouping import overlapping
from drivers.learn.weight.half_floats import without_half_floats
from drivers.learn.weight.ladders import originals_first
from drivers.learn.weight.laggards import without_laggards
from drivers.learn.weight.needless import (
    without_idle_bytes,
    without_longer_frames,
    without_marks_above,
    without_narrower_kinds,
    without_needless_decimals,
    without_needless_masks,
)
from drivers.learn.weight.protected import oftenest_first, protected_first
from drivers.learn.weight.ranked import put_first
from drivers.learn.weight.rivals import rivals_of
from drivers.learn.weight.same_packets import are_rounded_apart, in_packets_of, is_rounded_from
from drivers.learn.weight.same_steps import with_grids
from drivers.learn.weight.shown import shown_first
from drivers.learn.weight.straddling import without_straddling
from drivers.learn.weight.summed import without_sums
from drivers.learn.weight.two_units import grams_first
from drivers.learn.widths.upper_bits import with_its_sign_bit, with_upper_bits
from drivers.learn.widths.wider import settle_width

_FINE_ENOUGH = 0.12
_WITHOUT = (
    without_needless_masks, without_idle_bytes, without_marks_above, without_longer_frames,
    without_narrower_kinds, without_straddling, without_half_floats,
)  # fmt: skip
_AS_GOOD = 0.01
"""Share of packets that damage may take."""
_MANY_BELOW, _CLEARLY = 0.97, 0.02
"""Share of packets in place of a number that goes far below nought, without its sign; and by how much more
are with it."""
_RUNS_ON = 0.8
"""Share of packets that were not picked out in which a number runs on from those that were."""
_SELDOM = 1.0
"""What it costs, for the natural logarithm of how much more often other packets come that hold the load."""

_NEARLY_AS_COARSE = 0.4
"""Steps of a round number, of which those of coarse counts are at least so much."""


@dataclass(frozen=True, eq=False)
class Choice:
    """The best reading of the bytes, and what stands against it.

    :param best: None where nothing follows the loads
    :param rivals: others that are nearly as likely and do not agree with it
    :param copies: others that agree with it: filtered, coarser, in another unit
    """

    best: Fit | None
    rivals: tuple[Fit, ...] = ()
    copies: tuple[tuple[Fit, str], ...] = ()


def choose(
    fits: Sequence[Fit], loads: Sequence[Load], quantity: Quantity, *, is_final: bool = True
) -> Choice:
    """Choose among all the fits of a capture.

    :param is_final: whether a check is looked for beside a single byte; how well it fits can be said without
    """
    if not fits:
        return Choice(None)
    fits = [*fits, *_seen_below(fits, loads, quantity)]
    fits = with_grids(without_needless_decimals(_with_enough_inside(fits)) or fits)
    for without in _WITHOUT:
        fits = without(fits) or fits
    fewer = _fewer(fits)
    rough = roughness(fits)
    # A flag of rest picks out what is late beside packets that move.
    winners = [
        _with_motion(group[0], fits, loads, quantity) for group in overlapping(fits, _beside_others(fits))
    ]
    prompt, late = without_laggards(without_sums(winners) if is_final else winners)
    prompt = sorted(prompt, key=lambda one: _with_step(one, prompt) + fewer(one) + rough(one))
    if is_final:
        prompt = protected_first(originals_first(prompt))
        prompt = first_of_same(oftenest_first(grams_first(shown_first(prompt))))
    finest = min(
        (one for one in prompt if is_rounded(prompt[0], one)), key=lambda one: one.step, default=prompt[0]
    )
    finest = next((one for one in prompt if _is_source_of(one, finest)), finest)
    prompt = put_first(finest, prompt)
    best = settled(_unselected(finest, fits, loads, quantity), loads, quantity, is_final=is_final)
    others = prompt[1:]
    rivals = rivals_of(prompt[0], others, lambda one: _with_step(one, prompt) + fewer(one))
    copies = [(one, "filtered") for one in late] + [(one, "copy") for one in others if agree(prompt[0], one)]
    return Choice(best, rivals, tuple(copies))


def _is_source_of(one: Fit, best: Fit) -> bool:
    """Say whether a round number is worked out from ounces, or coarse counts of a unit of their own.

    Nobody works such counts out from round numbers. Finer ones are a converter's, and hardly ever shown.
    """
    if best.scale is None or one.zero_kind != "none" or best.inside > one.inside + _AS_GOOD:
        return False
    if not one.step < best.step or one.worst >= best.worst + best.step:
        return False
    if (beside := in_packets_of(one, best)) is None:
        return False
    is_other = is_rounded_from(one, best) or are_rounded_apart(best, one)
    is_source = are_metric_and_not(best, one) and not is_other
    is_coarse = one.scale is None and one.step > _NEARLY_AS_COARSE * best.step
    return (is_source or is_coarse) and tells_more(one, beside)


def settled(one: Fit, loads: Sequence[Load], quantity: Quantity, *, is_final: bool = True) -> Fit:
    """Give the chosen number its full width, its sign and its decimals.

    :param is_final: whether a check is looked for, which may look like an upper byte
    """
    taken = frozenset[int]()
    if is_final and one.number.width == 1:
        check = find_check(one.kind.frames[rows_in_place(one)], one.number.covers, 0)
        taken = check.places if check is not None else taken
    wide = with_upper_bits(settle_width(one, loads, quantity, taken), loads, quantity)
    signed = with_its_sign_bit(settle_sign(wide, loads, quantity), loads, quantity)
    return with_decimals(without_idle_digits(signed, loads, quantity), loads, quantity)


def _unselected(one: Fit, fits: Sequence[Fit], loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give the same number in all packets of its length, where it says the load in the others as well."""
    whole = _in_whole(one, fits)
    ways = [*whole, *(_signed(each, loads, quantity) for each in whole)]
    return next((each for each in ways if _holds_in_others(each, one)), one)


def _with_motion(one: Fit, fits: Sequence[Fit], loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give the same number in all packets of its length, where those are as good: a flag picked some."""
    for whole in _in_whole(one, fits):
        signed = _signed(whole, loads, quantity)
        if max(whole.inside, signed.inside) > one.inside - _AS_GOOD and _holds_in_others(signed, one):
            return whole
    return one


def _in_whole(one: Fit, fits: Sequence[Fit]) -> list[Fit]:
    """Give a number that packets were picked out for in all of their length, and in more of them that were
    picked out by another byte, where it means the same there.

    What is in round steps in those that were picked out and not in all is something else in the others.
    """
    return [
        each for each in fits
        if one.kind.selectors and each.kind.whole is one.kind.whole and each.number == one.number
        and (one.scale is None or each.scale == one.scale)
        and (not each.kind.selectors or _is_part(one, each))
    ]  # fmt: skip


def _is_part(one: Fit, other: Fit) -> bool:
    """Say whether packets are some of those of another fit, in which its number runs on throughout."""
    others = ~np.isin(other.kind.time_s, one.kind.time_s)
    if (~others).sum() < len(one.kind.frames) or not others.any():
        return False
    return bool(goes_on(other.kind, other)[others].mean() > _RUNS_ON)


def _signed(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give an integer with a sign, where that is better: nothing that rests below nought has shown one."""
    number = one.number
    if number.encoding != "integer" or number.signed or number.mask:
        return one
    signed = fit(one.kind, replace(number, signed="twos-complement"), loads, quantity)
    return signed if signed is not None and signed.inside > one.inside else one


def _seen_below(fits: Sequence[Fit], loads: Sequence[Load], quantity: Quantity) -> list[Fit]:
    """Give integers with a sign that is seen on the way only, which many packets make no sense without.

    A number that has some of their bytes, and others, makes sense in more then.
    """
    plain = [
        one for one in fits
        if one.scale is not None and one.inside < _MANY_BELOW and not one.number.signed
        and any(
            each.kind is one.kind and each.number.covers & one.number.covers
            and each.inside > one.inside + _CLEARLY
            for each in fits
        )
    ]  # fmt: skip
    signed = [(one, _signed(one, loads, quantity)) for one in plain]
    return [each for one, each in signed if each.inside > one.inside + _CLEARLY]


def _holds_in_others(whole: Fit, one: Fit) -> bool:
    """Say whether the packets that were not picked out hold the load as well."""
    others = ~np.isin(whole.kind.time_s, one.kind.time_s)
    return bool(others.any() and rows_in_place(whole)[others].mean() > 0.9)


def holds_in_rest(one: Fit, loads: Sequence[Load]) -> bool:
    """Say whether the frames that were not picked out hold the load as well: they are of the same kind."""
    whole = one.kind.whole
    if not one.kind.selectors or not isinstance(whole, Kind) or (seen := whole.seen_with(loads)) is None:
        return False
    rest = ~np.isin(seen.time_s, one.kind.time_s)
    return bool(rest.any() and rows_in_place(one, seen)[rest].mean() > 0.7)


def _with_enough_inside(fits: Sequence[Fit]) -> list[Fit]:
    enough = [one for one in fits if one.inside >= ENOUGH_INSIDE]
    return enough or list(fits)


def _beside_others(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what ranks fits: their cost, what they leave open, how many packets they explain."""
    finest = min(coarseness(one) for one in fits)
    fewer = _fewer(fits)
    rough = roughness(fits)
    return lambda one: total_cost(one) + 3.0 * math.log10(coarseness(one) / finest) + fewer(one) + rough(one)


def _fewer(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what it costs a fit to explain less than another one of the same stream.

    Of frames cut out of a stream, short ones that leave much of it out may be many: there bytes count, and
    how many frames there are only where those are the same.
    """
    widest: dict[int, int] = {}
    most: dict[int, int] = {}
    gap_s: dict[int, float] = {}
    for one in fits:
        stream = one.kind.stream
        widest[stream] = max(widest.get(stream, 0), _bytes_in(one.kind))
        if len(one.kind.frames) > most.get(stream, 0):
            most[stream], gap_s[stream] = len(one.kind.frames), max(usual_gap_s(one.kind.time_s), 1e-3)

    def cost(one: Fit) -> float:
        seldom = _SELDOM * math.log(gap_s[one.kind.stream] / min(gap_s.values()))
        missing = math.log(widest[one.kind.stream] / _bytes_in(one.kind))
        fewer = math.log(most[one.kind.stream] / len(one.kind.frames))
        if not one.kind.is_cut:
            return 5.0 * missing + seldom
        # What was not picked out may well hold something else.
        part = math.log(whole_count(one.kind) / len(one.kind.frames))
        return 15.0 * (missing - part) + 5.0 * part + 2.0 * fewer

    return cost


def whole_count(kind: Kind) -> int:
    """Give how many frames the kind has that this one was picked out of."""
    return len(kind.whole.frames) if isinstance(kind.whole, Kind) else len(kind.frames)


def _bytes_in(kind: Kind) -> int:
    """Give how much of a stream a kind explains: bytes of frames, else how many packets or lines."""
    is_frame = kind.is_cut and not kind.terminator and kind.make is None
    return len(kind.frames) * (kind.length if is_frame else 1)


def _with_step(one: Fit, among: Sequence[Fit]) -> float:
    """Add what a coarser step costs, beside the finest."""
    good = [
        each for each in among
        if each.inside >= ENOUGH_INSIDE and each.worst < 0.004 * each.span + each.step
    ] or [one]  # fmt: skip
    # Noise of the load itself is in all of them, and says nothing for the coarser one.
    fine = max(min(each.step + max(0.0, each.noise_units - one.noise_units) for each in good), 1e-3)
    coarser = max(0.0, math.log2(max(one.step, 1e-3) / fine))
    # Grams in tenths are what a display shows; of anything coarser the finer copy is the better one.
    too_coarse = min(4.0 * coarser, 10.0) if one.step > _FINE_ENOUGH else 0.0
    return total_cost(one) + min(0.8 * coarser, 3.0) + too_coarse

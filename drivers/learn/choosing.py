"""Which of the numbers that follow the loads is the weight: no coarse view of it, no copy that lags."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.check_search import find_check
from drivers.learn.copies import agree, is_behind, is_rounded, without_laggards
from drivers.learn.costs import coarseness, total_cost
from drivers.learn.decimals import with_decimals
from drivers.learn.fitting import Fit, in_place
from drivers.learn.kinds import Kind
from drivers.learn.needless import (
    with_grids,
    without_idle_bytes,
    without_longer_frames,
    without_narrower_kinds,
    without_needless_decimals,
    without_needless_masks,
)
from drivers.learn.numbers import Frames
from drivers.learn.signs import settle_sign
from drivers.learn.upper_bits import with_its_sign_bit, with_upper_bits
from drivers.learn.widths import settle_width

_SMOOTHER, _LEAST_PATH = 0.75, 0.8
_FINE, _FINE_ENOUGH = 0.03, 0.12
_STILL = 0.93
_COARSE, _ROUGHLY, _FAR_BETTER = 0.4, 0.04, 0.3
"""A coarse step, g or °C; how far off the loads are then, in steps; and what is far better than that."""
_MOST_COUNTS = float(1 << 24)
"""What a converter tells apart at most."""
_EVEN = 64.0
"""Standard deviation of numbers whose lowest byte may be anything: 74, and less by chance."""
_AS_LIKELY = 2.0
_WITHOUT = (without_needless_masks, without_idle_bytes, without_longer_frames, without_narrower_kinds)
_NO_RIVAL, _AS_GOOD = 0.03, 0.01
"""Share of their span by which loads are off no line at all; of packets that damage may take."""
RIVAL = 3.0
"""How much likelier the best must be than another that says something else, a natural logarithm."""


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
    fits = with_grids(without_needless_decimals(_with_enough_inside(fits)) or fits)
    for without in _WITHOUT:
        fits = without(fits) or fits
    fewer = _fewer(fits)
    rough = _roughness(fits)
    # A flag of rest picks out what is late beside packets that move.
    winners = [_with_motion(group[0], fits) for group in _overlapping(fits)]
    prompt, late = without_laggards(winners)
    prompt = sorted(prompt, key=lambda one: _with_step(one, prompt) + fewer(one) + rough(one))
    finest = min(
        (one for one in prompt if is_rounded(prompt[0], one)), key=lambda one: one.step, default=prompt[0]
    )
    prompt = [finest, *(one for one in prompt if one is not finest)]
    best = settled(_unselected(finest, fits), loads, quantity, is_final=is_final)
    others = prompt[1:]
    rivals = tuple(
        one for one in others
        if _with_step(one, prompt) + fewer(one) < _with_step(prompt[0], prompt) + fewer(prompt[0]) + RIVAL
        and not agree(prompt[0], one) and one.worst < _NO_RIVAL * one.span + one.step
    )  # fmt: skip
    copies = [(one, "filtered") for one in late] + [(one, "copy") for one in others if agree(prompt[0], one)]
    return Choice(best, rivals, tuple(copies))


def settled(one: Fit, loads: Sequence[Load], quantity: Quantity, *, is_final: bool = True) -> Fit:
    """Give the chosen number its full width, its sign and its decimals.

    :param is_final: whether a check is looked for, which may look like an upper byte
    """
    taken = frozenset[int]()
    if is_final and one.number.width == 1 and (check := find_check(_in_place(one), one.number.covers, 0)):
        taken = check.places
    wide = with_upper_bits(settle_width(one, loads, quantity, taken), loads, quantity)
    signed = with_its_sign_bit(settle_sign(wide, loads, quantity), loads, quantity)
    return with_decimals(signed, loads, quantity)


def _in_place(one: Fit) -> Frames:
    return np.asarray(one.kind.frames[kind_rows(one.kind, one)])


def _unselected(one: Fit, fits: Sequence[Fit]) -> Fit:
    """Give the same number in all packets of its length, where it says the load in the others as well."""
    whole = [
        each for each in fits
        if one.kind.selectors and not each.kind.selectors and each.kind.whole is one.kind.whole
        and each.number == one.number and _holds_in_others(each, one)
    ]  # fmt: skip
    return whole[0] if whole else one


def _with_motion(one: Fit, fits: Sequence[Fit]) -> Fit:
    """Give the same number in all packets of its length, where those are as good: a flag picked some."""
    whole = _unselected(one, fits)
    return whole if whole.inside > one.inside - _AS_GOOD else one


def _holds_in_others(whole: Fit, one: Fit) -> bool:
    """Say whether the packets that were not picked out hold the load as well."""
    others = ~np.isin(whole.kind.time_s, one.kind.time_s)
    return bool(others.any() and kind_rows(whole.kind, whole)[others].mean() > 0.9)


def holds_in_rest(one: Fit, loads: Sequence[Load]) -> bool:
    """Say whether the frames that were not picked out hold the load as well: they are of the same kind."""
    whole = one.kind.whole
    if not one.kind.selectors or not isinstance(whole, Kind) or (seen := whole.seen_with(loads)) is None:
        return False
    rest = ~np.isin(seen.time_s, one.kind.time_s)
    return bool(rest.any() and kind_rows(seen, one)[rest].mean() > 0.7)


def _with_enough_inside(fits: Sequence[Fit]) -> list[Fit]:
    enough = [one for one in fits if one.inside >= 0.85]
    return enough or list(fits)


def _overlapping(fits: Sequence[Fit]) -> list[list[Fit]]:
    """Put together the fits that share bytes of packets of the same stream and length."""
    groups: list[tuple[Fit, list[Fit]]] = []
    for one in sorted(fits, key=_beside_others(fits)):
        places = one.number.covers
        for head, group in groups:
            shared = len(head.number.covers & places)
            if shared and head.kind.is_like(one.kind):
                group.append(one)
                break
        else:
            groups.append((one, [one]))
    return [_unshortened(_promptest(_smoothest(group))) for _, group in groups]


def _promptest(group: list[Fit]) -> list[Fit]:
    """Put a reading first that the first one lags behind: it has taken a byte of a copy that comes later."""
    head = group[0]
    before = [
        one for one in group[1:]
        if one.kind is head.kind and one.scale == head.scale is not None and one.inside > head.inside - 0.02
        and one.worst < 2.0 * head.worst + one.step and one.noise_units < 1.5 * head.noise_units + one.step
        and total_cost(one) < total_cost(head) + _AS_LIKELY and is_behind(head, one)
    ]  # fmt: skip
    first = [one for one in before if not any(is_behind(one, other) for other in before)] or before
    return [min(first, key=total_cost), *group] if before else group


def _smoothest(group: list[Fit]) -> list[Fit]:
    """Put that reading of the first one's bytes first which goes least up and down on its way."""
    head = group[0]
    same = [
        one for one in group
        if one.kind is head.kind and one.number.covers == head.number.covers
        and one.inside > head.inside - 0.02 and one.worst < 0.01 * one.span + one.step
        and one.path > _LEAST_PATH and total_cost(one) < total_cost(head) + 2.0
    ]  # fmt: skip
    best = min(same, key=lambda one: one.path, default=head)
    clear = 0.97 if head.number.swapped else _SMOOTHER
    return [best, *group] if best.path < clear * head.path else group


def _unshortened(group: list[Fit]) -> list[Fit]:
    """Put bare counts first with all their lower bytes: a lower byte that adds no noise belongs to them."""
    head = group[0]
    if head.number.encoding != "integer":
        return group
    if head.scale is not None:
        return _refined(head, group)
    if head.step < max(0.5 * head.noise_units, _FINE):
        return group  # any byte behind it would do: it is not seen
    longer = [
        one for one in group
        if one.scale is None and one.number.covers > head.number.covers and one.kind is head.kind
        and one.number.order == head.number.order and one.number.lowest_at not in head.number.covers
        and (one.noise_units <= head.noise_units + 1e-9 or one.noise < _EVEN)
        and one.inside >= head.inside - 0.012 and not _is_still(one) and np.ptp(one.levels) < _MOST_COUNTS
    ]  # fmt: skip
    return [max(longer, key=lambda one: one.inside), *group] if longer else group


def _is_still(one: Fit) -> bool:
    """Say whether the lowest byte of a number is nearly always the same."""
    lowest = one.kind.frames[:, one.number.lowest_at]
    return bool(np.bincount(lowest).max() > _STILL * lowest.size)


def _refined(head: Fit, group: list[Fit]) -> list[Fit]:
    """Put bare counts before a coarse round reading of their upper bytes, where loads fit them far better."""
    if head.step < _COARSE or head.worst < _ROUGHLY * head.step:
        return group
    finer = [
        one for one in group
        if one.scale is None and one.number.covers > head.number.covers and one.kind is head.kind
        and (one.number.order == head.number.order or head.number.width == 1)
        and one.number.lowest_at not in head.number.covers
        and one.worst < _FAR_BETTER * head.worst
        and one.noise_units < head.noise_units + 0.05 * head.step
        and one.inside >= head.inside - 0.012 and not _is_still(one)
    ]  # fmt: skip
    return [min(finer, key=lambda one: (one.number.width, total_cost(one))), *group] if finer else group


def _beside_others(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what ranks fits: their cost, what they leave open, how many packets they explain."""
    finest = min(coarseness(one) for one in fits)
    fewer = _fewer(fits)
    rough = _roughness(fits)
    return lambda one: total_cost(one) + 3.0 * math.log10(coarseness(one) / finest) + fewer(one) + rough(one)


def _roughness(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what it costs a fit to go further up and down than another: bytes of two numbers jump."""
    good = [one for one in fits if one.inside > 0.9 and one.worst < 0.01 * one.span + one.step]
    # What was picked out by a flag of rest has no ups and downs at all.
    whole = [one.path for one in good if not one.kind.selectors]
    paths = whole or [one.path for one in good]
    least = max(min(paths, default=1.0), 0.85)
    return lambda one: min(3.0 * max(0.0, one.path / least - 1.15), 4.0)


def _fewer(fits: Sequence[Fit]) -> Callable[[Fit], float]:
    """Give what it costs a fit to explain less than another one of the same stream.

    Of frames cut out of a stream, short ones that leave much of it out may be many: there bytes count, and
    how many frames there are only where those are the same.
    """
    widest: dict[int, int] = {}
    most: dict[int, int] = {}
    for one in fits:
        stream = one.kind.stream
        widest[stream] = max(widest.get(stream, 0), _bytes_in(one.kind))
        most[stream] = max(most.get(stream, 0), len(one.kind.frames))

    def cost(one: Fit) -> float:
        missing = math.log(widest[one.kind.stream] / _bytes_in(one.kind))
        fewer = math.log(most[one.kind.stream] / len(one.kind.frames))
        if not one.kind.is_cut:
            return 5.0 * missing
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
    good = [each for each in among if each.inside > 0.95 and each.worst < 0.004 * each.span + each.step] or [
        one
    ]
    # Noise of the load itself is in all of them, and says nothing for the coarser one.
    fine = max(min(each.step + max(0.0, each.noise_units - one.noise_units) for each in good), 1e-3)
    coarser = max(0.0, math.log2(max(one.step, 1e-3) / fine))
    # Grams in tenths are what a display shows; of anything coarser the finer copy is the better one.
    too_coarse = min(4.0 * coarser, 10.0) if one.step > _FINE_ENOUGH else 0.0
    return total_cost(one) + min(0.8 * coarser, 3.0) + too_coarse


def kind_rows(kind: Kind, one: Fit) -> np.ndarray:
    """Say which packets of a kind a fit reads well."""
    return in_place(kind, one.number.values(kind.frames), one.levels, one.noise, one.grid)

"""Readings that share bytes: which of them is the number, and which have too many bytes or foreign ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.halves import are_halves
from drivers.learn.numbers.lagging import is_behind
from drivers.learn.numbers.lower_halves import has_better_half
from drivers.learn.packets.arrays import Floats
from drivers.learn.weight.costs import MOST_COUNTS, total_cost
from drivers.learn.weight.needless import is_lowest_busy

_SMOOTHER, _LEAST_PATH, _NO_ROUGHER = 0.75, 0.8, 1.15
"""How far a reading goes up and down: of the first one's way, one that is clearly smoother, at most; of the
loads' own way, any true one, at least; and of the first one's, or of the loads', one that comes before it, at
most."""

_LEFT_OUT, _LEFT_OUT_BELOW = 0.005, 0.012
"""Shares of packets that another reading may leave out: a smoother one, as what swings furthest wraps; and
one with more lower bytes, in which damage shows."""

_FINE, _STILL, _STILL_AT_REST = 0.03, 0.93, 0.5
"""A step, g or °C, below which nothing is seen; shares of packets, and of those at rest, in which a byte that
stays is the same."""

_COARSE, _ROUGHLY, _FAR_BETTER = 0.4, 0.04, 0.3
"""A coarse step, g or °C; how far off the loads are then, in steps; and what is far better than that."""

_HIDDEN, _SHOWN = 0.12, 0.3
"""Noise, in steps of a coarse number, that may not show in it at any load; and that shows whole."""

_COARSEST, _CLOSELY = 2.9, 0.001
"""A tenth of an ounce is the coarsest step of a scale that is brewed with, g; share of their span by which
loads are off bare counts."""

_EVEN = 64.0
"""Standard deviation of numbers whose lowest byte may be anything: 74, and less by chance."""

_AS_LIKELY, _PROMPTER, _SAME_SLOPE = 2.0, 2.2, 2e-3
"""By how much more another reading may cost, and an integer that is prompter, which is less on its way; share
by which the factors of two bare counts differ at most."""

_OF_BYTES_BELOW = (1.0, 256.0, 65536.0)
"""Times as many counts as a number has that one with none, one or two bytes below it makes of a load."""

_AS_FLOATS, _ALMOST, _MOSTLY_ON = 1.5e-7, 1e-6, 0.85
"""How near a multiple of its step a float of four bytes is, as a share of itself and in steps; and of which
share of the values; damaged ones are others."""

_FINEST_POWER, _COARSEST_POWER = -6, 3
"""Powers of ten of such steps, which are one, two or five times as large."""

_DIVIDED = 16.0
"""Values that a float could have between two steps of a display, at least."""

_HUNDRED, _FLICKER, _RESTS = 100, 10, 0.7
"""Values of two digits, by how much the lowest go up and down at rest, and in which share of packets."""

_OF_ROUNDING = 0.5
"""Share of the variance that rounding to a step makes, a twelfth of its square."""


def overlapping(fits: Sequence[Fit], rank: Callable[[Fit], float]) -> list[list[Fit]]:
    """Put together the fits that share bytes of packets of the same stream and length, the best one first.

    :param rank: what says how good one is, the lower the better
    """
    groups: list[list[Fit]] = []
    rest = sorted(fits, key=rank)
    while rest:
        first = _of_bytes(rest[0], rest)
        group = _unshortened(_with_own_half(_promptest(_in_steps(_smoothest(first)))))
        # What shares bytes with the one put first alone, or with the one before it, is another number.
        taken = {id(rest[0]), *map(id, _of_bytes(group[0], first))}
        groups.append(group)
        rest = [one for one in rest if id(one) not in taken]
    return groups


def _of_bytes(head: Fit, fits: Sequence[Fit]) -> list[Fit]:
    """Give the fits that share bytes of packets with one."""
    return [one for one in fits if head.number.covers & one.number.covers and head.kind.is_like(one.kind)]


def _promptest(group: list[Fit]) -> list[Fit]:
    """Put a reading first that the first one lags behind: it has taken a byte of a copy that comes later.

    What has bytes of two numbers, and so jumps, is ahead by chance.
    """
    head = group[0]
    likely = _PROMPTER if head.number.encoding == "integer" else _AS_LIKELY
    before = [
        one for one in group[1:]
        if one.kind is head.kind and _are_of_same_counts(one, head) and one.inside > head.inside - 0.02
        and one.path < _NO_ROUGHER * max(head.path, 1.0)
        and one.worst < 2.0 * head.worst + one.step and one.noise_units < 1.5 * head.noise_units + one.step
        and total_cost(one) < total_cost(head) + likely and is_behind(head, one)
    ]  # fmt: skip
    first = [one for one in before if not any(is_behind(one, other) for other in before)] or before
    return [min(first, key=total_cost), *group] if before else group


def _are_of_same_counts(one: Fit, head: Fit) -> bool:
    """Say whether a count stands for the same in two numbers, the second of which may have bytes below it."""
    if (one.scale is None) != (head.scale is None):
        return False
    if one.scale is None:
        return abs(one.slope / head.slope - 1.0) < _SAME_SLOPE
    return head.per_unit / one.per_unit in _OF_BYTES_BELOW


def _with_own_half(group: list[Fit]) -> list[Fit]:
    """Put a float first whose lower half is its own, before one that has that of something else.

    What goes in steps has its own, be those so wide that it hardly shows that it starts again.
    """
    if group[0].number.encoding != "float" or _goes_in_steps(group[0]):
        return group
    own = [
        one for one in group[1:]
        if has_better_half(one, group[0]) and one.inside > group[0].inside - _LEFT_OUT
    ]  # fmt: skip
    return [min(own, key=total_cost), *group] if own else group


def _smoothest(group: list[Fit]) -> list[Fit]:
    """Put that reading of the first one's bytes first which goes least up and down on its way."""
    head = group[0]
    same = [
        one for one in group
        if one.kind is head.kind and one.number.covers == head.number.covers
        and one.inside > head.inside - _LEFT_OUT and one.worst < 0.01 * one.span + one.step
        and one.path > _LEAST_PATH and total_cost(one) < total_cost(head) + _AS_LIKELY
    ]  # fmt: skip
    if head.number.swapped:
        return [min(same, key=_bends), *group] if same else group
    best = min(same, key=lambda one: one.path, default=head)
    return [best, *group] if best.path < _SMOOTHER * head.path else group


def _bends(one: Fit) -> float:
    """Give by how much a number changes its speed altogether, as a share of the loads' range.

    Digits in another order come to the same at round loads, and jump between any two neighbours.
    """
    values = one.number.values(one.kind.frames)[rows_in_place(one)]
    return float(np.abs(np.diff(values, 2)).sum() / max(np.ptp(one.levels), 1e-12))


def _in_steps(group: list[Fit]) -> list[Fit]:
    """Put a float first that goes in steps, before one that has some of its bytes and any value.

    A display has steps, and the bytes of two numbers do not fall upon them by chance.
    """
    head = group[0]
    if head.number.encoding != "float" or _goes_in_steps(head):
        return group
    stepped = [
        one for one in group[1:]
        if one.number.encoding == "float" and one.kind is head.kind and one.number.width == head.number.width
        and _goes_in_steps(one) and one.inside > head.inside - _LEFT_OUT
    ]  # fmt: skip
    return [min(stepped, key=total_cost), *group] if stepped else group


def _goes_in_steps(one: Fit) -> bool:
    """Say whether a float goes in steps that its digits could divide many times over."""
    values = np.unique(one.number.values(one.kind.frames)[rows_in_place(one)])
    if not values.size:
        return False
    most, finest = float(np.ptp(one.levels)) / values.size, float(np.abs(one.levels).max()) / MOST_COUNTS
    return any(
        _are_multiples(values, mantissa * 10.0**exponent)
        for exponent in range(_FINEST_POWER, _COARSEST_POWER + 1)
        for mantissa in (1, 2, 5)
        if _DIVIDED * finest < mantissa * 10.0**exponent <= most
    )


def _are_multiples(values: Floats, step: float) -> bool:
    counts = values / step
    near = np.abs(counts - np.round(counts)) <= _AS_FLOATS * np.abs(counts) + _ALMOST
    return bool(near.mean() > _MOSTLY_ON)


def _unshortened(group: list[Fit]) -> list[Fit]:
    """Put bare counts first with all their lower bytes: a lower byte that adds no noise belongs to them."""
    head = group[0]
    if head.number.encoding == "bcd":
        return _with_lower_digits(head, group)
    if head.scale is not None:
        head, *_ = group = _refined(head, group)
    if head.scale is not None or head.number.encoding != "integer":
        return group
    if head.step < max(0.5 * head.noise_units, _FINE):
        return group  # any byte behind it would do: it is not seen
    longer = [
        one for one in group
        if one.scale is None and one.number.covers > head.number.covers and one.kind is head.kind
        and one.number.order == head.number.order and one.number.lowest_at not in head.number.covers
        and (one.noise_units <= head.noise_units + 1e-9 or one.noise < _EVEN)
        and one.inside >= head.inside - _LEFT_OUT_BELOW
        and not _is_still(one) and np.ptp(one.levels) < MOST_COUNTS
    ]  # fmt: skip
    return [max(longer, key=lambda one: one.inside), *group] if longer else group


def _with_lower_digits(head: Fit, group: list[Fit]) -> list[Fit]:
    """Put digits first with those below them, where these go on with the rest.

    They are halves; or without them there is more noise, as much as to leave digits out makes; or they rest
    where a load does, each at its own, and are everything on the way. Tens of grams are no display's steps:
    round loads show no digits below them, and the way does, on which the number goes no rougher with those.
    """
    left_out = _OF_ROUNDING * head.step**2 / 12.0
    is_too_coarse = head.step > _COARSEST
    longer = [
        one for one in group
        if one.number.encoding == "bcd" and one.number.covers > head.number.covers and one.kind is head.kind
        and one.number.order == head.number.order and one.number.lowest_at not in head.number.covers
        and one.scale is not None and one.inside >= head.inside - _LEFT_OUT
        and (
            are_halves(one)
            or (one.noise_units**2 < head.noise_units**2 - left_out and not _is_still(one))
            or _go_with_loads(one)
            or (is_too_coarse and is_lowest_busy(one) and one.path < _NO_ROUGHER * head.path)
        )
    ]  # fmt: skip
    if not longer:
        return group
    first = min(longer, key=total_cost)
    # At round loads, swapped digits are such as well; few swap them.
    plain = replace(first.number, swapped=False)
    same = (one for one in group if is_too_coarse and one.kind is first.kind and one.number == plain)
    return [next((one for one in same if one.inside >= first.inside - _LEFT_OUT), first), *group]


def _go_with_loads(one: Fit) -> bool:
    """Say whether the lowest digits rest at each load, not at all of them alike, and move in between."""
    lowest = one.kind.frames[:, one.number.lowest_at].astype(np.int64)
    digits = 10 * (lowest >> 4) + (lowest & 15)
    at_rest = [int(np.bincount(digits[rows]).argmax()) for rows in one.kind.settled]
    for rest, rows in zip(at_rest, one.kind.settled, strict=True):
        apart = np.abs(digits[rows] - rest)
        if (np.minimum(apart, _HUNDRED - apart) <= _FLICKER).mean() < _RESTS:
            return False
    return len({*at_rest}) > len(at_rest) // 2 and is_lowest_busy(one)


def _is_still(one: Fit) -> bool:
    """Say whether the lowest byte of a number is nearly always the same, or as a rule at all loads."""
    lowest = one.kind.frames[:, one.number.lowest_at]
    at_rest = lowest[np.concatenate(one.kind.settled)]
    if np.bincount(at_rest).max() > _STILL_AT_REST * at_rest.size:
        return True
    return bool(np.bincount(lowest).max() > _STILL * lowest.size)


def _refined(head: Fit, group: list[Fit]) -> list[Fit]:
    """Put bare counts before a coarse round reading of their upper bytes, where loads fit them far better.

    Noise that shows in coarse steps is more there: what adds to it below them is another byte.
    What no display shows is coarse however well the loads fit: check masses are multiples of 50 g.
    """
    is_too_coarse = head.step > _COARSEST
    is_off = head.step > _COARSE and head.worst > _ROUGHLY * head.step and head.number.encoding == "integer"
    if not is_too_coarse and not is_off:
        return group
    far_better = _FAR_BETTER * head.worst
    hidden = _HIDDEN * head.step if head.noise_units < _SHOWN * head.step else 0.0
    finer = [
        one for one in group
        if one.scale is None and one.number.covers > head.number.covers and one.kind is head.kind
        and one.number.encoding == "integer"
        and (one.number.order == head.number.order or head.number.width == 1)
        and one.number.lowest_at not in head.number.covers
        and (one.worst < far_better or (is_too_coarse and one.worst < _CLOSELY * one.span + one.step))
        and one.noise_units < head.noise_units + hidden
        and one.inside >= head.inside - _LEFT_OUT_BELOW and not _is_still(one)
    ]  # fmt: skip
    return [min(finer, key=lambda one: (one.number.width, total_cost(one))), *group] if finer else group

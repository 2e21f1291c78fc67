"""Whether two numbers stand in the same packets: in the same frames, however cut, or in the same lines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Floats

_FEW_DAMAGED, _FEW_OF_PAIRS, _MANY_OF_PAIRS, _DAMAGED_PAIRS = 2, 0.02, 0.25, 0.1
"""Pairs of a number and its copy that damage alone explains; as a share of all; where most came once; and
where those are told from others by how far off they are."""

_CLEARLY_MORE, _ABOVE = 1e-3, 2.0
"""Share of a step by which something is more; steps above nought from which on no sign is needed."""


def are_rounded_apart(each: Fit, one: Fit) -> bool:
    """Say whether two numbers of the same packets are one weight, neither worked out from the other."""
    off = _apart(each, one)
    if off is None or not off.size:
        return False
    # What is further apart than both are rounded is damaged; a few pairs are, each another one.
    is_near = np.abs(off) <= each.step + one.step
    off = off[is_near] if is_near.mean() > 1.0 - _DAMAGED_PAIRS else off
    return not any(_is_rounding(off, step) for step in (each.step, one.step))


def is_rounded_from(each: Fit, one: Fit) -> bool:
    """Say whether a number of the same packets is another one, rounded; where most pairs come but once."""
    off = _apart(each, one)
    return off is None or _is_rounding(off, each.step, _MANY_OF_PAIRS)


def _apart(each: Fit, one: Fit) -> Floats | None:
    """Give how far two numbers of the same packets are apart, g or °C, for each pair of values once.

    :returns: None where the other one does not stand in the packets of this one
    """
    beside = in_packets_of(one, each)
    if beside is None:
        return None
    says, other = (some.loads_of(some.number.values(some.kind.frames)) for some in (beside, one))
    rows = rows_in_place(one) & rows_in_place(beside)  # their signs may not be known yet
    with np.errstate(invalid="ignore"):
        rows &= np.minimum(says, other) > _ABOVE * max(one.step, each.step)
    return np.asarray(np.diff(np.unique(np.stack((other, says))[:, rows], axis=1), axis=0)[0])


def _is_rounding(off: Floats, step: float, damaged: float = _FEW_OF_PAIRS) -> bool:
    """Say whether a number is never further from another one than rounding or cutting off takes it.

    What was rounded before and is rounded again is off by half a step of its own at most; two that are
    rounded by themselves are off by half a step of each.

    :param off: how far the two are apart, g or °C, for each pair of values once
    :param damaged: the share of those that may be damaged
    """
    half = 0.5 * step
    beyond = [
        int((np.abs(off - middle) > (1.0 + _CLEARLY_MORE) * half).sum()) for middle in (0.0, half, -half)
    ]
    return min(beyond) <= max(_FEW_DAMAGED, damaged * off.size)


def in_packets_of(one: Fit, each: Fit) -> Fit | None:
    """Give another number packet by packet beside one.

    :returns: None where it does not stand in the same packets, or has bytes of that one
    """
    if _are_of_same_lines(one, each):
        return each
    number = _in_frames_of(one, each)
    return replace(each, kind=one.kind, number=number) if number is not None else None


def _are_of_same_lines(one: Fit, other: Fit) -> bool:
    """Say whether two numbers are columns of the same lines of text."""
    if one.kind.make is None or other.kind.make is None or one.kind.stream != other.kind.stream:
        return False
    return one.kind is not other.kind and np.array_equal(one.kind.time_s, other.kind.time_s)


def _in_frames_of(one: Fit, each: Fit) -> Number | None:
    """Give another number as it stands in the frames of one, where those are cut elsewhere as well.

    :returns: None where it does not stand in them, or has bytes of that one
    """
    number, begins, others = each.number, one.kind.begins, each.kind.begins
    if not each.kind.is_like(one.kind):
        if begins is None or others is None or not begins.size or not others.size:
            return None
        if (each.kind.stream, each.kind.length) != (one.kind.stream, one.kind.length):
            return None
        before = np.maximum(np.searchsorted(begins, others, side="right") - 1, 0)
        turn = int(np.median(others - begins[before]))
        number = replace(number, offset=number.offset + turn, sign=None, decimals_at=-1)
        if not 0 <= number.offset <= one.kind.length - number.width:
            return None
    return None if number.covers & one.number.covers else number

"""Numbers that only rise: the largest weight so far, or one that nothing has taken off yet.

What never falls seems to be ahead of all others when the pan swings, and beside a filtered one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.packets.arrays import without_single

_DAMAGED = 0.002
"""Share of the packets in which a number falls by damage."""

_LITTLE = 0.01
"""Share of the span of the loads that a number may fall altogether though all loads rise."""

_NOISES, _FEWEST_RISES, _MOSTLY_BEYOND = 2.0, 8, 0.6
"""Standard deviations of one packet by which two may differ; packets in which a number rises, and
the share of them in which it is beyond another one."""


def only_rises(one: Fit) -> bool:
    """Say whether a number never falls, as the largest one so far does: it is ahead when the pan swings."""
    if (np.diff(one.levels) * one.slope < 0).any():
        return False
    one = with_sign(one)
    values = one.loads_of(one.number.values(one.kind.frames))
    rows = rows_in_place(one)
    fallen = np.diff(values[rows]) < -0.5 * one.step
    return bool(fallen.sum() <= max(2.0, _DAMAGED * rows.sum()))


def with_sign(one: Fit) -> Fit:
    """Read an integer whose sign has not been looked for yet with one, where more packets make sense so."""
    number = one.number
    if number.encoding != "integer" or number.signed or number.mask:
        return one
    signed = replace(one, number=replace(number, signed="twos-complement"))
    return signed if rows_in_place(signed).mean() > one.inside else one


def is_beyond(other: Fit, one: Fit) -> bool:
    """Say whether a number is beyond all that another one of the same packets has been, as the load goes up.

    The largest so far never is.
    """
    if not np.array_equal(one.kind.time_s, other.kind.time_s):
        return False
    rows = rows_in_place(one) & rows_in_place(other)
    mine, theirs = (each.loads_of(each.number.values(each.kind.frames[rows])) for each in (one, other))
    if mine.size < 3:
        return False
    mine, theirs = without_single(mine), without_single(theirs)
    near = one.step + other.step + _NOISES * (one.noise_units + other.noise_units)
    rises = np.diff(theirs, prepend=theirs[:1]) > near
    beyond = theirs > np.maximum.accumulate(mine) + near
    return bool(rises.sum() >= _FEWEST_RISES and beyond[rises].mean() > _MOSTLY_BEYOND)


def falls(one: Fit) -> bool:
    """Say whether a number falls by more than a little altogether: what never does may be its largest."""
    rows = rows_in_place(one)
    values = one.loads_of(one.number.values(one.kind.frames[rows]))
    if values.size < 3:
        return False
    values = without_single(values)
    fallen = -float(np.minimum(np.diff(values), 0.0).sum())
    return fallen > _LITTLE * one.span + 3.0 * one.step

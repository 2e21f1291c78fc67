"""Copies of the weight: which say the same, and which of them tells more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.lagging import clearly_apart, is_always_ahead
from drivers.learn.packets.arrays import Floats, Frames

_MOST_APART, _AS_GOOD_AS_ALL = 0.02, 0.98
_FEWEST_SEVERAL, _COMES_AGAIN = 2, 3
"""Values with which another number says several things, and how often each of those."""

_FAR_MORE_DOUBLES = 5
"""How many more values of a number go with one of another, beyond the first, than the reverse."""

_NOISES = 3.0
"""Standard deviations of one packet by which numbers differ that are rounded from the same by themselves."""

METRIC = ("g", "kg", "°C")

ENOUGH_INSIDE = 0.85
"""Share of the packets in which a number is in place whose sign has not been looked for."""


def are_metric_and_not(grams: Fit, ounces: Fit) -> bool:
    """Say whether the first of two numbers is in grams, and the second in ounces or pounds."""
    if grams.scale is None or ounces.scale is None:
        return False
    return grams.scale.unit in METRIC and ounces.scale.unit not in METRIC


def is_another_as_good(one: Fit, copies: Sequence[Fit]) -> bool:
    """Say whether other bytes of the same packets go with the load as well, and differ while it moves.

    Those that are always behind are a copy, however little they lag.

    :param copies: other numbers that agree with this one at rest
    """
    frames, mine = one.kind.frames, one.loads_of(one.number.values(one.kind.frames))
    near = rows_in_place(one)
    for each in copies:
        is_beside = each.kind.is_beside(one.kind) and not each.number.covers & one.number.covers
        if not is_beside or each.scale is None or each.step > 1.5 * one.step or each.inside < 0.97:
            continue
        if each.noise_units > 1.5 * one.noise_units + one.step:
            continue
        theirs = _nearest_of(each, frames, mine)
        with np.errstate(invalid="ignore"):
            apart = clearly_apart(one, each) + _NOISES * one.noise_units
            far = near & (np.abs(np.abs(theirs) - np.abs(mine)) > apart)
        if far[near].mean() > _MOST_APART and not is_always_ahead(mine, theirs, far):
            return True
    return False


def _nearest_of(each: Fit, frames: Frames, mine: Floats) -> Floats:
    """Read a copy whose sign has not been looked for with two's complement where that is nearer, g or °C."""
    number = each.number
    plain = each.loads_of(number.values(frames))
    if number.encoding != "integer" or number.signed or number.mask:
        return plain
    signed = each.loads_of(replace(number, signed="twos-complement").values(frames))
    return np.where(np.abs(signed - mine) < np.abs(plain - mine), signed, plain)


def follows_from(other: Fit, one: Fit) -> bool:
    """Say whether a number always says the same where another one of the same packets does."""
    if not other.kind.is_like(one.kind):
        return False
    frames = one.kind.frames
    mine, theirs = one.number.values(frames), other.number.values(frames)
    known = np.isfinite(mine) & np.isfinite(theirs)
    _, which = np.unique(mine[known], return_inverse=True)
    order = np.lexsort((theirs[known], which))
    same = which[order][1:] == which[order][:-1]
    changed = same & (np.diff(theirs[known][order]) != 0)
    if changed.sum() >= _MOST_APART * known.sum():
        return False
    # Where both stand still, a few values go with several others that come again; what is damaged does not.
    pairs, often = np.unique(np.stack((which, theirs[known])), axis=1, return_counts=True)
    _, several = np.unique(pairs[0, often >= _COMES_AGAIN], return_counts=True)
    return int((several > 1).sum()) < _FEWEST_SEVERAL


def tells_more(one: Fit, other: Fit) -> bool:
    """Say whether several values of a number go with one of another, of the same packets: not the reverse."""
    mine, theirs = (each.loads_of(each.number.values(each.kind.frames)) for each in (one, other))
    rows = rows_in_place(one)
    with np.errstate(invalid="ignore"):
        rows &= np.abs(mine - theirs) < one.step + other.step  # else one of the two is damaged
    pairs = np.unique(np.stack((mine[rows], theirs[rows])), axis=1)
    doubles = [pairs.shape[1] - np.unique(each).size for each in pairs]
    return bool(doubles[1] > _FAR_MORE_DOUBLES * doubles[0])


def is_rounded(coarse: Fit, fine: Fit) -> bool:
    """Say whether a number is another one of the same packets rounded to its own step, and tells no more."""
    if (
        fine.scale is None
        or coarse.scale is None
        or fine.scale.unit not in METRIC
        or not _is_fine(coarse, fine)
    ):
        return False
    frames = coarse.kind.frames
    mine, finer = (one.loads_of(one.number.values(frames)) for one in (coarse, fine))
    with np.errstate(invalid="ignore"):
        # Their signs have not been looked for yet.
        rows = rows_in_place(coarse)
        rows &= mine > 2.0 * coarse.step
        apart = np.abs(mine - finer)[rows]
        return bool(apart.size and (apart <= 0.5 * (coarse.step + fine.step) + 1e-6).mean() > _AS_GOOD_AS_ALL)


def _is_fine(coarse: Fit, fine: Fit) -> bool:
    """Say whether a number goes in steps of which a whole count makes another one's, and is read as often."""
    if not fine.kind.is_like(coarse.kind) or fine.number.covers & coarse.number.covers or fine.step <= 0.0:
        return False
    times = coarse.step / fine.step
    return times > 1.5 and abs(times - round(times)) < 1e-6 * times and fine.inside > coarse.inside - 0.01


def agree(one: Fit, other: Fit, *, in_size: bool = False) -> bool:
    """Say whether two readings say the same, also while the load moves.

    :param in_size: whether they may differ by their sign
    """
    mine, theirs = (
        one.loads_of(one.number.values(one.kind.frames)),
        other.loads_of(other.number.values(other.kind.frames)),
    )
    if in_size:
        mine, theirs = np.abs(mine), np.abs(theirs)
    # What comes between two packets of the other says what one of those does, or goes from one to the other.
    behind = np.searchsorted(other.kind.time_s, one.kind.time_s)
    before, behind = (np.clip(at, 0, len(theirs) - 1) for at in (behind - 1, behind))
    reach = 0.03 * float(np.ptp(one.levels / one.slope)) + 3.0 * (one.step + other.step)
    with np.errstate(invalid="ignore"):
        lowest, highest = np.fmin(theirs[before], theirs[behind]), np.fmax(theirs[before], theirs[behind])
        return bool(((mine >= lowest - reach) & (mine <= highest + reach)).mean() > 0.8)

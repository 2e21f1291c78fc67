"""Checks that leave out a byte that stays, over which one may go or not: the weight's highest one, a sign.

One that goes over it holds for all weights but those below nought, where that byte is filled with ones. What
it refuses then has a sign in common; damage has nothing in common, and is in any byte.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drivers.learn.checks.check import SHARE, Check, begun_as_usual, few_of
from drivers.learn.packets.arrays import Floats, Frames, Marks

_FEWEST_GAINED, _OF_REFUSED, _OF_GAINED, _ALIKE = 4, 0.4, 0.1, 0.5
"""Frames for which a shorter range is right and a longer one is not, and that are not each something else in
what it leaves out; their share of what the longer one refuses, and for each of them, how many the shorter one
is not right for; the share of them that are alike in what it leaves out."""

_SMOOTHER = 0.5
"""By how much less far a number goes up and down, of its range, than with its bytes in the other order."""

_MOST_REFUSED, _HARDLY_DAMAGE = 0.03, 3
"""Share of the frames that fail a check and come more often than so, just as they are, at most."""


def holding_for_more(check: Check, frames: Frames, weighed: frozenset[int]) -> Check:
    """Give the same check over fewer bytes at either end, where that explains most of what it refuses.

    :param frames: shape (n, length)
    :param weighed: the places of the weight, some of which it must cover still
    """
    holds = check.holds(frames)
    refused = ~holds
    if refused.sum() < _FEWEST_GAINED:
        return check
    for shorter in _shorter(check, frames[holds], weighed):
        holds_too = shorter.holds(frames)
        gained, lost = int((holds_too & refused).sum()), int((holds & ~holds_too).sum())
        if gained < _FEWEST_GAINED or lost > _OF_GAINED * gained:
            continue
        left_out = [*range(check.start, shorter.start), *range(shorter.stop, check.stop)]
        often = _how_often(frames[holds_too & refused][:, left_out])
        is_of_weight = bool(weighed & set(left_out)) and gained >= _OF_REFUSED * refused.sum()
        if is_of_weight and often[often > 1].sum() >= _FEWEST_GAINED:
            return shorter
        if often.max() >= max(_FEWEST_GAINED, _ALIKE * gained):  # the same in most of them, as a sign is
            return shorter
    return check


def refuses_alike(check: Check, frames: Frames) -> bool:
    """Say whether frames that come again and again just as they are fail a check: they are not damaged."""
    refused = frames[~check.holds(frames)]
    if len(refused) <= _MOST_REFUSED * len(frames):
        return False
    _, often = np.unique(refused, axis=0, return_counts=True)
    return bool(often[often > _HARDLY_DAMAGE].sum() > _MOST_REFUSED * len(frames))


def to_ends_of_fields(check: Check, sample: Frames, busy: Marks) -> Check:
    """Give the same check over a nought more or less at either end, where that is a field's highest byte.

    Over noughts a sum may go or not, until the field goes on in them: it begins and ends where fields do. A
    nought behind two bytes that are a number with its highest byte last is the next byte of that.

    :param sample: shape (n, length)
    :param busy: which bytes change, shape (length,)
    """
    good = sample[check.holds(sample)]
    if (check.poly and check.init) or not len(good):
        return check
    start, stop = check.start, check.stop

    def is_top(at: int) -> bool:
        is_nought = 2 <= at < good.shape[1] and at not in check.places and not good[:, at].any()
        return is_nought and bool(busy[at - 2] and busy[at - 1]) and _is_highest_last(good[:, at - 2 : at])

    if is_top(start) and start + 1 < stop:
        check = replace(check, start=start + 1)
    if not check.poly and stop + 1 != check.at and is_top(stop):  # else it may be the check's own upper one
        check = replace(check, stop=stop + 1)
    return check


def _is_highest_last(pair: Frames) -> bool:
    """Say whether two bytes make a number that goes far more smoothly with the second one above the first."""
    first, second = pair.T.astype(np.float64)
    last, before = (_roughness(upper * 256.0 + lower) for upper, lower in ((second, first), (first, second)))
    return last < _SMOOTHER * before


def _roughness(values: Floats) -> float:
    """Give how far a number goes altogether, as a share of its range."""
    return float(np.abs(np.diff(values)).sum() / max(np.ptp(values), 1.0))


def _how_often(left_out: Frames) -> NDArray[np.int64]:
    """Give how often each thing comes that a shorter check leaves out: damage is seldom the same twice."""
    _, often = np.unique(left_out, axis=0, return_counts=True)
    return often


def _shorter(check: Check, good: Frames, weighed: frozenset[int]) -> Iterator[Check]:
    """Give the check without bytes at either end of what it covers, the weight's among them or not."""
    most = len(weighed & set(range(check.start, check.stop))) - 1
    usual = [int(np.bincount(column).argmax()) for column in good.T]
    for begins in (True,) if check.poly else (True, False):  # what ends a cyclic check is never left out
        edge = [*range(check.start, check.stop)]
        edge = edge if begins else edge[::-1]
        first = next((at for at, place in enumerate(edge) if place in weighed), len(edge))
        for left in range(1, first + 1 + most):
            dropped = edge[:left]
            if left > first and dropped[-1] not in weighed:
                break
            ends = {"start": dropped[-1] + 1} if begins else {"stop": dropped[-1]}
            left_out = [usual[place] for place in dropped]
            if (shorter := _without(replace(check, **ends), left_out, good)) is not None:
                yield shorter


def _without(check: Check, dropped: list[int], good: Frames) -> Check | None:
    """Give a check that is the same without bytes of what it covers; None where there is none.

    A cyclic one begins with something else then, which must be as usual.

    :param dropped: what those usually are
    :param good: some frames that it is right for, shape (n, length)
    """
    if not any(dropped) and (not check.poly or check.init == 0):
        return check
    if check.poly:
        return begun_as_usual(check, few_of(good), SHARE)
    if check.kind == "xor8":
        return replace(check, xorout=check.xorout ^ int(np.bitwise_xor.reduce(dropped)))
    mask = 0xFFFF if check.kind.endswith("16") else 0xFF
    return replace(check, init=(check.init + sum(dropped)) & mask)

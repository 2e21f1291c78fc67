"""Of numbers that have never been another, the first of a packet: what is made of a weight stands behind it.

The largest weight so far is the same as long as all loads rise, a net weight until somebody tares, and a sum
over the weight as long as its lowest byte alone is needed.
"""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.weight.ranked import put_first

_ALWAYS = 0.99
"""Share of the packets in which two numbers are the same but for damage."""


def first_of_same(prompt: Sequence[Fit]) -> list[Fit]:
    """Put that number first which is written as the best one is, and stands before it in the same packets.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    twins = [one for one in prompt if _are_written_alike(one, best) and _are_same(one, best)]
    first = min(twins, key=lambda one: one.number.offset, default=best)
    return put_first(first, prompt)


def _are_written_alike(one: Fit, best: Fit) -> bool:
    """Say whether a number stands before another one, in the same way, and has no bytes of it."""
    mine, its = one.number, best.number
    is_before = one.kind.is_like(best.kind) and mine.offset < its.offset and not mine.covers & its.covers
    is_alike = (mine.encoding, mine.order, mine.swapped) == (its.encoding, its.order, its.swapped)
    return is_before and is_alike and (one.scale, one.zero_kind) == (best.scale, best.zero_kind)


def _are_same(one: Fit, best: Fit) -> bool:
    rows = rows_in_place(best)
    mine, its = (each.number.values(best.kind.frames[rows]) for each in (one, best))
    return bool((mine == its).mean() > _ALWAYS)

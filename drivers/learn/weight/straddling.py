"""Numbers that are put together from the ends of two others: upper bytes of one, lower ones of the next."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from drivers.learn.numbers.fitting import Fit
from drivers.learn.packets.arrays import without_single

_ROUGHER = 1.02
"""How much further up and down such a number goes than one of the two: its halves do not move together."""

_AS_GOOD = 0.005
"""Share of packets by which damage makes one of them worse."""

_OFTENER, _DAMAGED = 2.0, 8
"""Times as often as both of the two, and packets besides, that it is clearly off those around it."""


def without_straddling(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers that begin in one copy of the weight and end in the next, in the other order.

    At rest, both copies say the same, and the halves of two make one as well. While the load moves, one of
    them lags behind, and what is put together jumps. Where both are always the same, a number between them
    leaves over a half of each, which no other number of its own order stands beside.
    """
    alike: dict[tuple[object, ...], list[Fit]] = {}
    for one in fits:
        if one.number.encoding in ("integer", "bcd") and one.scale is not None:
            alike.setdefault((id(one.kind), one.number.encoding, one.scale), []).append(one)

    def straddles(one: Fit) -> bool:
        among = alike.get((id(one.kind), one.number.encoding, one.scale), [])
        others = [each for each in among if each.number.order != one.number.order and each.number.width > 1]
        begins, ends = _whole_bytes(one)
        beside = (each.number for each in among if each.number.order == one.number.order)
        is_alone = all(number.end != begins and number.offset != ends for number in beside)
        before = [each for each in others if each.number.offset < begins < each.number.end]
        behind = [each for each in others if each.number.offset < ends < each.number.end]
        return one.number.width > 1 and any(
            first.number.end == second.number.offset
            and (
                _ROUGHER * min(first.path, second.path) < one.path
                or _is_jagged(one, first, second)
                or (is_alone and min(first.inside, second.inside) > one.inside - _AS_GOOD)
            )
            for first, second in product(before, behind)
        )

    return [one for one in fits if not straddles(one)]


def _is_jagged(one: Fit, *others: Fit) -> bool:
    """Say whether a number goes back and forth where those around it do not: it wraps at other times."""
    return _jags(one) > _OFTENER * max(map(_jags, others)) + _DAMAGED


def _jags(one: Fit) -> int:
    """Count the packets that say something clearly off the ones before and behind."""
    values = one.number.values(one.kind.frames)
    if values.size < 3:
        return 0
    off = np.abs(values[1:-1] - without_single(values))
    return int((off > 5.0 * one.noise + 2.0 * one.grid).sum())


def _whole_bytes(one: Fit) -> tuple[int, int]:
    """Give where the bytes of a number begin and end, but for one that only lends it a bit or two."""
    number = one.number
    width = number.mask.bit_length() // 8 if number.mask & 1 else number.width
    return (
        (number.end - width, number.end) if number.order == "big" else (number.offset, number.offset + width)
    )

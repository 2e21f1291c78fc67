"""Numbers that are put together from the ends of two others: upper bytes of one, lower ones of the next."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from drivers.learn.numbers.fitting import Fit
from drivers.learn.packets.arrays import without_single

_ROUGHER = 1.02
"""How much further up and down such a number goes than one of the two: its halves do not move together."""


_OFTENER, _DAMAGED = 2.0, 8
"""Times as often as both of the two, and packets besides, that it is clearly off those around it."""


def without_straddling(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers that begin in one copy of the weight and end in the next, in the other order.

    At rest, both copies say the same, and the halves of two make one as well. While the load moves, one of
    them lags behind, and what is put together jumps. Where few packets come on the way, it hardly does, and
    the two explain more bytes than it does.
    """
    alike: dict[tuple[object, ...], list[Fit]] = {}
    for one in fits:
        if one.number.encoding in ("integer", "bcd") and one.scale is not None:
            alike.setdefault((id(one.kind), one.number.encoding, one.scale), []).append(one)

    def straddles(one: Fit) -> bool:
        same = alike.get((id(one.kind), one.number.encoding, one.scale), [])
        others = [
            each for each in same
            if each.number.order != one.number.order and each.number.width > 1
        ]  # fmt: skip
        begins, ends = _whole_bytes(one)
        before = [each for each in others if each.number.offset < begins < each.number.end]
        behind = [each for each in others if each.number.offset < ends < each.number.end]
        return one.number.width > 1 and any(
            first.number.end == second.number.offset and _is_put_together(one, first, second, same)
            for first, second in product(before, behind)
        )

    return [one for one in fits if not straddles(one)]


def _is_put_together(one: Fit, first: Fit, second: Fit, alike: Sequence[Fit]) -> bool:
    """Say whether a number goes less smoothly than the two that it has halves of, or explains less.

    :param alike: numbers of the same kind of packet that are read in the same way, in either order
    """
    smoother = min(first.path, second.path)
    if _ROUGHER * smoother < one.path or _is_jagged(one, first, second):
        return True
    return smoother <= one.path and _explain_more(first, second, one, alike)


def _explain_more(first: Fit, second: Fit, one: Fit, alike: Sequence[Fit]) -> bool:
    """Say whether more numbers of one width follow on each other in the order of two than in that between."""
    if {first.number.width, second.number.width} != {one.number.width}:
        return False
    return _in_a_row(first, alike) > _in_a_row(one, alike)


def _in_a_row(one: Fit, alike: Sequence[Fit]) -> int:
    """Count the numbers that follow on each other before and behind one, in its order and of its width."""
    number = one.number
    begins = {
        each.number.offset for each in alike
        if (each.number.order, each.number.width) == (number.order, number.width)
    }  # fmt: skip
    count = 1
    for step in (-number.width, number.width):
        at = number.offset + step
        while at in begins:
            count, at = count + 1, at + step
    return count


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

"""Whether what may be a sign is an end of another number that follows the loads: of a copy.

A copy is filtered, coarser or later: it is below nought when the number is not yet, or says nought when that
is a little below. And the highest byte of a float says how large it is; the lowest one of a coarse copy has
its highest bits set a little below nought.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.neighbours import WIDEST
from drivers.learn.numbers.number import Number, middle_of
from drivers.learn.packets.arrays import Floats, Marks

_FOLLOWS, _ALIKE = 0.03, 0.5
"""Shares of its span by which a copy is off the loads at rest at most, and off the number below nought; and
share of the packets below nought in which it is no further."""

_LEAST_SPAN = 1e-3
"""Of the loads, as any float says them: in kg, or in lb."""

_SHORTEST, _FLOAT = 2, 4
"""Bytes of a copy with a highest and a lowest one, and of a float."""


_FAR, _FEWEST_FAR = 3.0, 2
"""Spans of the loads from nought that no weight is; pairs of packets in a row that are so far."""


class Copies:
    """The highest bytes of all other numbers that follow the loads as one does.

    :param one: the number, held against the loads
    :param plain: how it is read without its sign
    :param taken: places that belong to a check
    """

    def __init__(self, one: Fit, plain: Number, taken: frozenset[int]) -> None:
        self._one, self._plain, self._taken = one, plain, plain.covers | taken

    def have_end_at(self, place: int, minus: Marks) -> bool:
        """Say whether a byte is the highest of a copy, or the lowest of a short one, which goes below nought
        where a sign is set.

        :param minus: packets in which what may be a sign is set, shape (n,)
        """
        return any(self._goes_along(says, minus) for at, says in self._ends if at == place)

    @cached_property
    def _ends(self) -> list[tuple[int, Floats]]:
        """Give where such bytes of copies stand, and what each copy says, as a share of its span."""
        found = []
        for number in self._others():
            values = number.values(self._one.kind.frames)
            span = self._span_of(number, values)
            if not span or self._is_torn(number, values, span):
                continue
            found.append((number.highest_first[0], values / span))
            if number.width == _SHORTEST and not self._follows_without(number):
                found.append((number.lowest_at, values / span))
        return found

    def _span_of(self, number: Number, values: Floats) -> float:
        """Give the span of a number between the loads; 0 where it does not follow them."""
        levels = self._one.levels - self._one.zero
        at_rest = [values[rows][np.isfinite(values[rows])] for rows in self._one.kind.settled]
        if min(some.size for some in at_rest) == 0:
            return 0.0
        middles = np.array([float(middle_of(some)) for some in at_rest])
        slope = float(levels @ middles) / float(levels @ levels)
        span = slope * float(np.ptp(levels))
        is_float = number.encoding == "float"
        if is_float and abs(span) < _LEAST_SPAN:
            return 0.0  # with no exponent, whole numbers are floats as well
        allowed = _FOLLOWS * abs(span) + (0.0 if is_float else 1.0)
        return span if np.abs(middles - slope * levels).max() <= allowed < 0.5 * abs(span) else 0.0

    def _follows_without(self, number: Number) -> bool:
        """Say whether a copy follows the loads without its lowest byte, which may be something else then."""
        shorter = replace(number, offset=number.offset + (number.order == "little"), width=number.width - 1)
        return self._span_of(shorter, shorter.values(self._one.kind.frames)) != 0.0

    def _is_torn(self, number: Number, values: Floats, span: float) -> bool:
        """Say whether a copy is far from all loads for a while where it is not without its highest byte.

        That one is none of its own then. Damage makes it another one in single packets.

        :param values: what the copy says in each packet, shape (n,)
        :param span: of the copy between the loads
        """
        if number.encoding == "float":
            return False
        offset = number.offset + (number.order == "big")
        shorter = replace(number, offset=offset, width=number.width - 1)
        near = np.abs(shorter.values(self._one.kind.frames)) < _FAR * abs(span)
        far = near & (np.abs(values) > _FAR * abs(span))
        return int((far[1:] & far[:-1]).sum()) >= _FEWEST_FAR

    def _others(self) -> Iterator[Number]:
        length = self._one.kind.length
        for width in range(2, WIDEST + 1):
            for offset in range(length - width + 1):
                if self._taken & set(range(offset, offset + width)):
                    continue
                for order in BYTE_ORDERS:
                    yield Number("integer", offset, width, order, signed="twos-complement")
                    if width == _FLOAT:
                        yield Number("float", offset, width, order)

    def _goes_along(self, says: Floats, minus: Marks) -> bool:
        own = self._plain.values(self._one.kind.frames[minus]) - self._one.zero
        size = np.abs(own) / float(np.ptp(self._one.levels))
        with np.errstate(invalid="ignore"):
            near = np.abs(np.abs(says[minus]) - size) <= _ALIKE
        return bool(near.size and near.mean() > _ALIKE)

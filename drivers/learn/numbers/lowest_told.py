"""A lowest byte that is no part of the number: the bytes above it tell it, or it is anything.

What counts comes back to the same upper bytes with other lowest ones. A check never does.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS
from drivers.learn.numbers.fitting import Fit, rows_in_place

_FEWEST, _TOLD, _ALIKE = 5, 0.95, 0.9
"""Values of the upper bytes that come again; shares that are alike, of packets of one and of all of them."""

_COARSE = 32.0
"""Counts of a step of the display, of which a byte holds few: those come again by chance."""

_FEWEST_CODES = 3

_MIDDLE, _SIGMAS, _EVEN = 127.5, 3.0, 64.0
"""Mean of a byte that is anything, counts; standard uncertainties by which that is no nought; standard
deviation of such a byte: 74, and less by chance."""


def is_lowest_told(one: Fit) -> bool:
    """Say whether the lowest byte of bare counts is the same whenever those above it are the same again."""
    number = one.number
    if one.scale is not None or number.encoding != "integer" or number.width < 2 or number.mask:
        return False
    if one.grid > _COARSE or number.order not in BYTE_ORDERS:
        return False
    rows = rows_in_place(one)
    offset = number.offset + (number.order == "little")
    upper = replace(number, offset=offset, width=number.width - 1, sign=None)
    above, lowest = upper.values(one.kind.frames[rows]), one.kind.frames[rows, number.lowest_at]
    begins = np.flatnonzero(np.diff(above, prepend=np.nan) != 0.0)
    again = []
    for value in np.unique(above[begins]):
        visits = begins[above[begins] == value]
        if visits.size < 2:
            continue
        codes = lowest[above == value]
        usual = int(np.bincount(codes).argmax())
        again.append((float((codes == usual).mean()) > _TOLD, usual))
    if len(again) < _FEWEST or np.unique([usual for _, usual in again]).size < _FEWEST_CODES:
        return False
    return bool(np.mean([is_told for is_told, _ in again]) > _ALIKE)


def is_lowest_anything(one: Fit) -> bool:
    """Say whether bare counts begin half a byte above nought, with a lowest byte that is anything at rest.

    What an empty pan shows is nought; a lowest byte that has nothing to do with it adds its own mean.
    """
    number = one.number
    if not one.is_bare or number.encoding != "integer" or number.width < 2 or number.mask:
        return False
    if abs(one.zero) < _SIGMAS * one.offset_error or abs(one.zero - _MIDDLE) > 2.0 * one.offset_error + 1.0:
        return False
    lowest = one.kind.frames[np.concatenate(one.kind.settled), number.lowest_at]
    return bool(lowest.std() > _EVEN)

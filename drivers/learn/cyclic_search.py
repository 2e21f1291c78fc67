"""Cyclic checks of any polynomial: found by the differences of frames, and then given what they begin with.

They are linear: the check of the difference of two frames, register 0, is the difference of their checks. So
a polynomial is tried without knowing the rest, and what the register begins with is looked for last.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drivers.learn.checks import SHARE, Check, commonest, covers, written_in
from drivers.learn.cyclic import Whole, hits, tables
from drivers.learn.numbers import Frames

_PAIRS = 28


def cyclic_checks(
    sample: Frames, target: Whole, at: int, taken: int, width: int, order: str, is_hex: bool,
    weighed: frozenset[int], busy: NDArray[np.bool_], varies: NDArray[np.bool_],
) -> list[Check]:  # fmt: skip
    """Find the cyclic checks that stand at one place.

    :param target: what stands there in each frame
    :param taken: how many bytes it takes
    :param width: bytes of the check
    :param weighed: the places of the weight, which it must cover
    :param busy: the places that change often
    :param varies: the places that ever change
    """
    if np.unique(target).size < 6:
        return []
    half = len(sample) // 2
    pick = np.unique(np.linspace(0, half - 1, _PAIRS).astype(np.int64))
    other = pick + half
    differences, wanted = sample[pick] ^ sample[other], target[pick] ^ target[other]
    useful = (differences != 0).any(axis=1)
    differences, wanted = differences[useful], wanted[useful]
    if len(wanted) < 8:
        return []
    firsts = [start for start in range(sample.shape[1]) if start == 0 or varies[start - 1]]
    found = []
    for reflected in (False, True):
        polys, made = tables(8 * width, reflected)
        for start in firsts:
            if at <= start < at + taken:
                continue
            end = at if start < at else sample.shape[1]
            fitting = hits(differences, wanted, made, start, end, 8 * width, reflected, SHARE - 0.1)
            for which, stop in fitting:
                # The polynomial 1 makes an exclusive or of it, which sees nothing of what is there twice.
                if polys[which] != 1 and covers(start, stop, weighed, busy):
                    kind = "crc8" if width == 1 else "crc16"
                    check = Check(kind, at, start, stop, order, is_hex, polys[which],
                                  refin=reflected)  # fmt: skip
                    found += _completed(check, sample, target, varies)
        if found:
            return found
    return found


def _completed(check: Check, sample: Frames, target: Whole, varies: NDArray[np.bool_]) -> list[Check]:
    """Find what the register begins with and ends with; the customary ones first."""
    full = 0xFFFF if check.kind == "crc16" else 0xFF
    last = check.start
    while last < check.stop - 1 and not varies[last]:
        last += 1
    few = sample[:: max(1, len(sample) // 40)]
    for init, xorout in ((0, 0), (full, 0), (full, full), (0, full)):
        for start in range(check.start, last + 1):
            one = replace(check, start=start, init=init, xorout=xorout)
            if one.holds(few).mean() >= SHARE - 0.05:
                return [one]
    plain = replace(check, init=0, xorout=0)
    constant, count = commonest(
        plain._computed(few) ^ written_in(few, check.at, check.width, check.order, check.is_hex)
    )
    if count < (SHARE - 0.05) * len(few):
        return []
    return [replace(plain, xorout=constant)]

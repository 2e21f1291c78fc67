"""Whether a byte beside a number counts its decimals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.fitting import Fit, fit, in_place

_SMOOTHER = 0.9
_ENCODINGS = ("integer", "bcd", "digits")


def with_decimals(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Look for a byte that counts the decimals: with it, the number goes more smoothly."""
    best = one
    for again in _counted(one, loads, quantity):
        if again.inside >= best.inside - 0.012 and again.path < _SMOOTHER * best.path:
            best = again
    return best


def are_decimals_open(one: Fit, loads: Sequence[Load], quantity: Quantity) -> bool:
    """Say whether a byte may count the decimals, and the loads have not shown whether it does."""
    if one.number.decimals_at >= 0:
        return False
    values = one.number.values(one.kind.frames)
    for again in _counted(one, loads, quantity):
        if again.number.decimals_at not in (one.number.offset - 1, one.number.end):
            continue
        apart = np.abs(one.loads_of(values) - again.loads_of(again.number.values(one.kind.frames)))
        good = in_place(one.kind, values, one.levels, one.noise, one.grid)
        near = 2.0 * one.step + 0.002 * one.span
        with np.errstate(invalid="ignore"):
            differ = int((apart[good] > near).sum())
        if differ < 0.02 * apart.size and again.inside >= one.inside - 0.02 and again.path < 1.3 * one.path:
            return True
    return False


def _counted(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Iterator[Fit]:
    """Give the same number with each byte that may count its decimals and agrees with the loads."""
    if one.number.encoding not in _ENCODINGS or one.scale is None:
        return
    sign_at = one.number.sign.offset if one.number.sign is not None else -1
    for place, column in enumerate(one.kind.frames.T):
        tally = np.bincount(column, minlength=256)
        often = np.flatnonzero(tally >= max(3.0, 0.004 * column.size))
        if place == sign_at or place in one.number.covers or not 2 <= often.size <= 4 or often.max() > 6:
            continue
        again = fit(one.kind, replace(one.number, decimals_at=place), loads, quantity)
        if again is not None and again.scale is not None and again.zero_kind == "none":
            yield again

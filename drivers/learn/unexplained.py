"""What a description leaves unexplained: bytes that look like a check, lines of another length."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drivers.learn.choosing import kind_rows
from drivers.learn.fitting import Fit
from drivers.learn.headers import places_of
from drivers.learn.kinds import Kind, fixed_bytes
from drivers.learn.numbers import Frames

_FEWEST_ALIKE, _AS_BEFORE = 24, 0.95
"""Packets that repeat earlier ones, and the share in which a check must be the same again."""

_FEWEST_KINDS = 4
_LINES_LEFT_OUT = 0.02
_OF_NUMBERS = frozenset(b"0123456789ABCDEFabcdef+-. ")


def may_end_in_check(one: Fit, copies: Sequence[Fit]) -> bool:
    """Say whether the last bytes are another for every other packet, and the same again for the same.

    :param copies: other numbers that follow the load; their bytes are explained
    """
    frames = one.kind.frames[kind_rows(one.kind, one)]
    moving = [place for place, byte in enumerate(fixed_bytes(frames)) if byte is None]
    if len(moving) < 2:
        return False
    last, taken = moving[-1], set(places_of(one))
    known = [each for each in copies if each.scale is not None and each.kind.is_like(one.kind)]
    taken |= {place for each in known for place in each.number.covers}
    for places in ([last], [last - 1, last]):
        if taken & set(places):
            return False
        if _follows_from_rest(frames, places):
            return True
    return False


def _follows_from_rest(frames: Frames, places: list[int]) -> bool:
    rest = np.delete(frames, places, axis=1)
    _, which, counts = np.unique(rest, axis=0, return_inverse=True, return_counts=True)
    which = which.reshape(-1)
    ends = frames[:, places].astype(np.int64) @ (256 ** np.arange(len(places)))
    again = np.flatnonzero(counts >= 3)
    alike, found = 0, set[int]()
    for each in again:
        kinds, often = np.unique(ends[which == each], return_counts=True)
        alike += int(often.max())
        found.add(int(kinds[often.argmax()]))
    repeated = int(counts[again].sum())
    if repeated < _FEWEST_ALIKE or alike < _AS_BEFORE * repeated:
        return False
    return len(found) >= max(_FEWEST_KINDS, 0.7 * again.size)


def lines_left_out(one: Fit, kinds: Sequence[Kind]) -> int:
    """Count lines of other lengths that are made like those that are read.

    :param kinds: all that came by the same way
    """
    if not one.kind.terminator or one.kind.make is not None:
        return 0
    shape = _separators(one.kind)
    others = sum(
        len(kind.frames) for kind in kinds
        if kind.terminator and kind.make is None and not kind.selectors and kind.length != one.kind.length
        and _separators(kind) == shape
    )  # fmt: skip
    return others if others > _LINES_LEFT_OUT * len(one.kind.frames) else 0


def _separators(kind: Kind) -> bytes:
    """Give what stands between the numbers of most lines."""
    line = kind.frames[len(kind.frames) // 2].tobytes()
    return bytes(byte for byte in line if byte not in _OF_NUMBERS)

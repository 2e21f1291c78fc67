"""First bytes that stay beside a clock: they may be its upper ones, which go on, and begin no frame."""

from __future__ import annotations

import numpy as np

from drivers.learn.packets.arrays import Frames

_NO_DAMAGE, _WRAPS, _NEARLY_ALL = 3, 128, 0.8
"""Packets with a byte that is no damage; how far a lower byte goes back as it comes round; and the share of
the ticks at which it does."""

_FEWEST, _FEWEST_CARRIED, _EVENLY = 6, 2, 1.5
"""Ticks of a byte by itself, more than there are loads; of one that is carried to; how unevenly they come."""


def begins_beside_clock(frames: Frames, size: int) -> bool:
    """Say whether the first bytes of frames may be the upper ones of a clock behind them, or before them.

    :param size: how many bytes they are
    """
    length = frames.shape[1]
    return any(
        _is_upper_of_clock(frames[:, place], frames[:, lower])
        for place, lower in ((size, size + 1), (-1, -2))
        if size + 2 < length
    )


def _is_upper_of_clock(column: Frames, lower: Frames) -> bool:
    """Say whether a byte only ever goes up by one, as the lower one comes round, or each time as late."""
    tally = np.bincount(column, minlength=256)
    kept = tally[column] >= _NO_DAMAGE
    goes = np.diff(column[kept].astype(np.int16))
    ticks = np.flatnonzero(goes)
    if ticks.size < _FEWEST_CARRIED or (goes[ticks] != 1).any():
        return False
    comes_round = np.diff(lower[kept].astype(np.int16))[ticks] < -_WRAPS
    if comes_round.mean() > _NEARLY_ALL:
        return True
    apart = np.diff(ticks)
    return bool(ticks.size >= _FEWEST and apart.max() <= _EVENLY * apart.min() + 1)

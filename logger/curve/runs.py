"""Runs of neighbouring values that share a property."""

from __future__ import annotations

import numpy as np

Flags = np.ndarray[tuple[int], np.dtype[np.bool_]]


def runs_of(flags: Flags, bridge: int = 1) -> list[tuple[int, int]]:
    """Give first and last index of each run of True, runs at most ``bridge`` apart taken as one."""
    at = np.flatnonzero(flags)
    if not at.size:
        return []
    breaks = np.flatnonzero(np.diff(at) > bridge)
    firsts, lasts = np.append(at[0], at[breaks + 1]), np.append(at[breaks], at[-1])
    return [(int(first), int(last)) for first, last in zip(firsts, lasts, strict=True)]

"""Runs of neighbouring values that share a property."""

from __future__ import annotations

import numpy as np

Flags = np.ndarray[tuple[int], np.dtype[np.bool_]]


def runs_of(flags: Flags, bridge: int = 1) -> list[tuple[int, int]]:
    """Give first and last index of each run of True, runs at most ``bridge`` apart taken as one."""
    at = flags.nonzero()[0]
    if not at.size:
        return []
    breaks = (at[1:] - at[:-1] > bridge).nonzero()[0]
    firsts, lasts = at[breaks + 1].tolist(), at[breaks].tolist()
    return list(zip([int(at[0]), *firsts], [*lasts, int(at[-1])], strict=True))

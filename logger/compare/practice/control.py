"""Individuals control chart with the run rules of the NIST/SEMATECH e-Handbook, 6.3.2.

Limits stand 3 sigma from the mean, sigma being the mean moving range by d2 = 1.128 (the same handbook,
6.3.2.2). The run rules are those of the Western Electric handbook (1956), as NIST lists them. With all of
them a process that is as it was speaks by chance once in about 92 points (NIST), so a single signal among
many figures says little.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from logger.compare.practice.estimates import (
    ControlChart,
    Floats,
    Signal,
)

D2 = 1.128
"""Mean range of two values, in standard deviations: 2 / sqrt(pi)."""

LIMITS_SIGMA = 3.0

RULES = (
    ("beyond 3 sigma", 1, 1, 3.0),
    ("2 of 3 beyond 2 sigma", 2, 3, 2.0),
    ("4 of 5 beyond 1 sigma", 4, 5, 1.0),
    ("8 in a row on one side", 8, 8, 0.0),
)
"""Name, so many of the last so many points, beyond so many sigma on the same side."""


def control_chart(values: Floats, brews: Sequence[int], unit: str) -> ControlChart:
    """Chart one figure over practice.

    :param values: in the order of the brews, NaN-free, at least 2
    :param brews: position of each value's brew in the practice set
    """
    sigma = float(np.abs(np.diff(values)).mean()) / D2
    centre = float(values.mean())
    reach = LIMITS_SIGMA * sigma
    return ControlChart(
        brews=tuple(brews),
        values=tuple(values.tolist()),
        centre=centre,
        low=centre - reach,
        high=centre + reach,
        sigma=sigma,
        unit=unit,
        signals=tuple(_signals(values, brews, centre, sigma)),
    )


def _signals(values: Floats, brews: Sequence[int], centre: float, sigma: float) -> Iterator[Signal]:
    if sigma <= 0:
        return
    off = (values - centre) / sigma
    for at, brew in enumerate(brews):
        for above in (True, False):
            beyond = _rule(off if above else -off, at)
            if beyond:
                yield Signal(beyond, brew, above)


def _rule(off: NDArray[np.float64], at: int) -> str:
    """The first rule that speaks at a point, on the upper side; empty where none does."""
    for name, so_many, of_last, sigmas in RULES:
        last = off[max(at - of_last + 1, 0) : at + 1]
        # The point itself must be one of them: else it is an older one that speaks again.
        if off[at] > sigmas and (last > sigmas).sum() >= so_many:
            return name
    return ""

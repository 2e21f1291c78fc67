"""Estimates from brews, each with how sure it is: a number, a tolerance interval, a control chart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CONFIDENCE = 0.90
"""Of every interval, where nothing else is said."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its interval.

    :param value: NaN where it cannot be said
    :param low: NaN where there are too few brews for an interval, as is ``high``
    :param n: brews behind it
    :param unit: ``""`` for what has none: a probability, a capability, an effect size
    :param confidence: how often such an interval holds the truth
    """

    value: float
    low: float
    high: float
    n: int
    unit: str
    confidence: float = CONFIDENCE

    @property
    def is_known(self) -> bool:
        """Whether there is a value and an interval."""
        return math.isfinite(self.value) and math.isfinite(self.low) and math.isfinite(self.high)


@dataclass(frozen=True, slots=True)
class ToleranceInterval:
    """Where at least ``share`` of all brews fall, with ``confidence`` (ISO 16269-6, both sides, exact).

    :param low: mean less ``factor`` standard deviations; NaN where it is not told, as is ``high``
    :param factor: k; NaN below 2 brews
    :param tight: whether the brews are enough to print the band; below ``evenness_words.ENOUGH`` it is not
    :param says: one sentence on what so many brews can carry
    """

    low: float
    high: float
    factor: float
    share: float
    confidence: float
    n: int
    unit: str
    tight: bool
    says: str


@dataclass(frozen=True, slots=True)
class Signal:
    """A point of a control chart at which a run rule speaks.

    :param rule: its short name: ``beyond 3 sigma``, ``2 of 3 beyond 2 sigma``, ...
    :param brew: position of the brew in ``Practice.brews``
    :param above: on which side
    """

    rule: str
    brew: int
    above: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Individuals chart: centre, and limits 3 sigma away by the mean moving range.

    :param brews: positions in ``Practice.brews``, in the order in which they were brewed
    :param values: one for each of these
    :param sigma: mean moving range by d2 = 1.128
    :param signals: where a run rule speaks, in order
    """

    brews: tuple[int, ...]
    values: tuple[float, ...]
    centre: float
    low: float
    high: float
    sigma: float
    unit: str
    signals: tuple[Signal, ...]

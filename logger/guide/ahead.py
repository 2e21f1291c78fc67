"""The corridor of the coming seconds, on whole seconds so that it is worked out once a second."""

from __future__ import annotations

import math

import numpy as np

from logger.guide.cue import Moment
from logger.target import Target, corridor, curve, first_weight_s

AHEAD_S = 20


class Ahead:
    """Remembers the last answer."""

    def __init__(self) -> None:
        self._known: tuple[int, int] | None = None
        self._moments: tuple[Moment, ...] = ()

    def moments(self, target: Target, version: int, clock_s: float) -> tuple[Moment, ...]:
        """The corridor from now on.

        :param version: of the plan: another one makes what is remembered worthless
        :param clock_s: since the first water
        """
        wanted = version, math.floor(clock_s)
        if wanted != self._known:
            self._known, self._moments = wanted, _moments(target, wanted[1])
        return self._moments


def _moments(target: Target, from_s: int) -> tuple[Moment, ...]:
    clock_s = np.arange(from_s, from_s + AHEAD_S + 1, dtype=np.float64)
    on_plan_s = clock_s + first_weight_s(target)
    low_g, high_g = corridor(target, on_plan_s)
    columns = (column.tolist() for column in (clock_s, low_g, curve(target, on_plan_s), high_g))
    return tuple(Moment(*row) for row in zip(*columns, strict=True))

"""Edges that were read before, when there were fewer readings, and were seen whole: they stay what they are.

Live, the readings of a pour are read several times within seconds. What comes later tells nothing new of an
edge around which all was seen by then, so that it is neither fitted nor weighed again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from logger.curve.edges.choice import Known
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response
from logger.curve.pours.water_curve import Curve

SAME_S, SAME_G = 0.16, 0.1
"""The even grid moves a little with every reading; where a level moved by more, a step was found since."""

T = TypeVar("T")
Turn = tuple[float, float]
"""When a stretch of flow was seen to begin or to end, and what the curve showed there, g."""


@dataclass(frozen=True, slots=True)
class Settled:
    """The edges that were seen whole, each by where its stretch of flow was seen to begin or to end.

    :param response: the scale's lag, with which they were read
    """

    response: Response | None = None
    starts: Mapping[Turn, Edge] = field(default_factory=dict)
    ends: Mapping[Turn, Edge] = field(default_factory=dict)
    known: Mapping[Edge, Known] = field(default_factory=dict)
    """How well each of them is known."""
    ones: Mapping[Turn, Turn] = field(default_factory=dict)
    """The stretches seen whole that are one: where each was seen to end, by where it was seen to begin."""

    def start(self, curve: Curve, first: int) -> Edge | None:
        """Give the start of the stretch that begins at a grid index, where it was seen whole before."""
        return self._among(self.starts, curve, first)

    def end(self, curve: Curve, last: int) -> Edge | None:
        """Give the end of the stretch that ends at a grid index, where it was seen whole before."""
        return self._among(self.ends, curve, last)

    def is_one(self, curve: Curve, first: int, last: int) -> bool:
        """Whether the stretch between two grid indices was seen whole before, and nowhere cut."""
        ended = self._among(self.ones, curve, first)
        return ended is not None and _is_same(ended, turn(curve, last))

    def _among(self, of_turns: Mapping[Turn, T], curve: Curve, place: int) -> T | None:
        if not of_turns or curve.response != self.response:
            return None
        at = turn(curve, place)
        return next((each for before, each in of_turns.items() if _is_same(before, at)), None)


def _is_same(before: Turn, at: Turn) -> bool:
    return abs(before[0] - at[0]) < SAME_S and abs(before[1] - at[1]) < SAME_G


def turn(curve: Curve, place: int) -> Turn:
    """Say where a stretch begins or ends that does so at a grid index."""
    return float(curve.grid_s[place]), float(curve.grid_g[place])


NOTHING_SETTLED = Settled()

"""Edges that were read before, when there were fewer readings, and were seen whole: they stay what they are.

Live, the readings of a pour are read several times within seconds. What comes later tells nothing new of an
edge around which all was seen by then, so that it is neither fitted nor weighed again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from logger.curve.edges.choice import Known
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response
from logger.curve.pours.water_curve import Curve

SAME_S, SAME_G = 0.16, 0.1
"""The even grid moves a little with every reading; where a level moved by more, a step was found since."""

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

    def start(self, curve: Curve, first: int) -> Edge | None:
        """Give the start of the stretch that begins at a grid index, where it was seen whole before."""
        return self._among(self.starts, curve, first)

    def end(self, curve: Curve, last: int) -> Edge | None:
        """Give the end of the stretch that ends at a grid index, where it was seen whole before."""
        return self._among(self.ends, curve, last)

    def _among(self, edges: Mapping[Turn, Edge], curve: Curve, place: int) -> Edge | None:
        if not edges or curve.response != self.response:
            return None
        at_s, at_g = turn(curve, place)
        for (before_s, before_g), edge in edges.items():
            if abs(before_s - at_s) < SAME_S and abs(before_g - at_g) < SAME_G:
                return edge
        return None


def turn(curve: Curve, place: int) -> Turn:
    """Say where a stretch begins or ends that does so at a grid index."""
    return float(curve.grid_s[place]), float(curve.grid_g[place])


NOTHING_SETTLED = Settled()

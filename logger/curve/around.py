"""The samples around edges, several edges together: what arrays can do at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edge_misfits import side_by_side
from logger.curve.edges import Edge, thinned

_MOST_SAMPLES = 60


@dataclass(frozen=True, slots=True)
class Seen:
    """An edge and the samples around it.

    :param time_s: shape (n,), n >= 4
    :param weight_g: shape (n,)
    :param edge: the one that fits best
    :param noise_g: standard deviation of one weight
    """

    time_s: Floats
    weight_g: Floats
    edge: Edge
    noise_g: float

    def thinned(self) -> Seen:
        """Take neighbours together where there are more than a fit needs."""
        time, weight = thinned(self.time_s, self.weight_g, _MOST_SAMPLES)
        return Seen(time, weight, self.edge, self.noise_g / float(np.sqrt(self.time_s.size // time.size)))


@dataclass(frozen=True, slots=True)
class Around:
    """Samples around several edges, side by side; rows are filled up where an edge has fewer.

    :param time_s: shape (e, n), with ``weight_g`` nothing where filled up
    :param weight_g: shape (e, n)
    :param there: 1, and 0 where filled up, shape (e, n)
    :param counts: samples of each edge, shape (e,)
    :param noise_g: standard deviation of one weight, shape (e,)
    :param at_s: when each edge fits best, shape (e,)
    :param flow_g_s: the flow that each leads to, or comes from, shape (e,)
    """

    time_s: Floats
    weight_g: Floats
    there: Floats
    counts: Floats
    noise_g: Floats
    at_s: Floats
    flow_g_s: Floats

    @classmethod
    def of(cls, seen: Sequence[Seen]) -> Around:
        """Lay them side by side."""
        there = side_by_side([np.ones_like(each.time_s) for each in seen])
        return cls(
            side_by_side([each.time_s for each in seen]),
            side_by_side([each.weight_g for each in seen]),
            there,
            there.sum(axis=1),
            np.array([each.noise_g for each in seen]),
            np.array([each.edge.time_s for each in seen]),
            np.array([each.edge.flow_g_s for each in seen]),
        )

    def since_s(self, steps_s: Floats) -> Floats:
        """Time since each of some times around each edge, shape (e, c, n)."""
        return np.asarray(self.time_s[:, None] - (self.at_s[:, None] + steps_s)[:, :, None])

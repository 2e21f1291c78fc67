"""The samples around edges, several edges together: what arrays can do at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.edge import THIN_FLOW_G_S, Edge, thinned
from logger.curve.edges.edge_misfits import filled, side_by_side

_MOST_SAMPLES = 60
DROPS_TELL_S = 4.0
"""Single drops come a second or two apart: for so long after an end nothing tells how many there are, and
what arrives is the end of the fade itself."""


@dataclass(frozen=True, slots=True)
class Seen:
    """An edge and the samples around it.

    :param time_s: shape (n,), n >= 4
    :param weight_g: shape (n,)
    :param edge: the one that fits best
    :param noise_g: standard deviation of one weight
    :param believed: how much better each is known than that, 1 for not at all, shape (n,); None for none
    :param all_thin: whether the whole stream is as thin as an espresso's, whatever the edge seems to flow
    :param from_bed: whether it is an espresso's for sure; a thin one that has only just ended may be a hand's
    :param running_g: that deviation once it runs, of what begins by itself; 0 where it is the same
    :param strays_g_s: by how much more the stream may leave any ramp for each second since its first water
    :param strays_g: by how much at the most
    """

    time_s: Floats
    weight_g: Floats
    edge: Edge
    noise_g: float
    believed: Floats | None = None
    all_thin: bool = False
    from_bed: bool = False
    running_g: float = 0.0
    strays_g_s: float = 0.0
    strays_g: float = np.inf

    @property
    def is_thin(self) -> bool:
        """Whether it flows like an espresso."""
        return self.all_thin or self.edge.flow_g_s < THIN_FLOW_G_S

    @property
    def by_pump(self) -> bool:
        """Whether a pump stops it, if it is an end, and enough was seen to tell how it fades."""
        return self.is_thin and self.from_bed and not self.is_fresh

    @property
    def is_fresh(self) -> bool:
        """Whether too little was seen after it, if it is an end, to tell what drips on from what fades."""
        return not self.time_s.size or float(self.time_s[-1]) < self.edge.time_s + DROPS_TELL_S

    def thinned(self) -> Seen:
        """Take neighbours together where there are more than a fit needs."""
        if self.time_s.size < _MOST_SAMPLES:
            return self
        time, weight = thinned(self.time_s, self.weight_g, _MOST_SAMPLES)
        noise_g = self.noise_g / float(np.sqrt(self.time_s.size // time.size))
        return replace(self, time_s=time, weight_g=weight, noise_g=noise_g)


@dataclass(frozen=True, slots=True)
class Around:
    """Samples around several edges, side by side; rows are filled up where an edge has fewer.

    :param time_s: shape (e, n), with ``weight_g`` nothing where filled up
    :param weight_g: shape (e, n)
    :param there: 1, and 0 where filled up, shape (e, n)
    :param believed: how much better each is known than ``noise_g``; 0 where filled up, shape (e, 1, n), or
        (e, c, n) where that depends on when the edge is
    :param counts: samples of each edge, shape (e,)
    :param noise_g: standard deviation of one weight, shape (e,)
    :param at_s: when each edge fits best, shape (e,)
    :param flow_g_s: the flow that each leads to, or comes from, shape (e,)
    :param running_g: standard deviation of one weight once it runs; 0 where it is the same, shape (e,)
    :param strays_g_s: by how much more each stream may leave any ramp for each second, shape (e,)
    :param strays_g: by how much at the most, shape (e,)
    """

    time_s: Floats
    weight_g: Floats
    there: Floats
    believed: Floats
    counts: Floats
    noise_g: Floats
    at_s: Floats
    flow_g_s: Floats
    running_g: Floats
    strays_g_s: Floats
    strays_g: Floats

    @classmethod
    def of(cls, seen: Sequence[Seen]) -> Around:
        """Lay them side by side."""
        there = filled([each.time_s.size for each in seen])
        numbers = [
            (
                each.noise_g,
                each.edge.time_s,
                each.edge.flow_g_s,
                each.running_g,
                each.strays_g_s,
                each.strays_g,
            )
            for each in seen
        ]
        noise_g, at_s, flow_g_s, running_g, strays_g_s, strays_g = np.array(numbers).T
        return cls(
            side_by_side([each.time_s for each in seen]),
            side_by_side([each.weight_g for each in seen]),
            there,
            side_by_side([_believed(each) for each in seen])[:, None],
            there.sum(axis=1),
            noise_g,
            at_s,
            flow_g_s,
            running_g,
            strays_g_s,
            strays_g,
        )

    def since_s(self, steps_s: Floats) -> Floats:
        """Time since each of some times around each edge, shape (e, c, n)."""
        return np.asarray(self.time_s[:, None] - (self.at_s[:, None] + steps_s)[:, :, None])


def _believed(seen: Seen) -> Floats:
    return np.ones_like(seen.time_s) if seen.believed is None else seen.believed

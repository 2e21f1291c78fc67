"""How much of the flow runs around an edge: the mean over all that is possible of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from logger.curve.brew import Floats


@dataclass(frozen=True, slots=True)
class Share:
    """One edge's likeliest ways to begin, or to end; arrays of shape (k,).

    :param from_s: until then none of the flow has begun, or all of it still goes on
    :param to_s: from then on the other way round
    :param chance: how likely each way is, 1 in all
    :param turns_s: when the ramp of a start begins, or that of an end is over
    :param ramps_s: how long the ramp takes
    :param fades: what fades after an end: time constants, 0 for nothing, and how much it is at first, as a
        share of the flow; shape (k,) each; None of a start
    """

    from_s: float
    to_s: float
    chance: Floats
    turns_s: Floats
    ramps_s: Floats
    fades: tuple[tuple[Floats, Floats], ...] | None = None

    def sooner(self, by_s: float) -> Share:
        """Give the same, so much earlier."""
        from_s, to_s = self.from_s - by_s, self.to_s - by_s
        return replace(self, from_s=from_s, to_s=to_s, turns_s=self.turns_s - by_s)

    def on(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Give the share of the flow at some times, and its standard deviation; shape (m,) each.

        :param time_s: in order, shape (m,)
        """
        before, after = (0.0, 1.0) if self.fades is None else (1.0, 0.0)
        first, last = time_s.searchsorted([self.from_s, self.to_s]).tolist()
        mean, spread = np.full(time_s.size, before), np.zeros(time_s.size)
        mean[last:] = after
        ways = self._ways(time_s[first:last])
        mean[first:last] = self.chance @ ways
        spread[first:last] = np.sqrt(np.maximum(self.chance @ ways**2 - mean[first:last] ** 2, 0.0))
        return mean, spread

    def _ways(self, time_s: Floats) -> Floats:
        """The share of each way at each time, shape (k, m)."""
        since = time_s - self.turns_s[:, None]
        if self.fades is None:
            return np.minimum(np.maximum(since / self.ramps_s[:, None], 0.0), 1.0)
        before = np.minimum(np.maximum(since / -self.ramps_s[:, None], 0.0), 1.0)
        stopped, after = since > 0.0, np.maximum(since, 0.0)
        for fades_s, left in self.fades:  # what fades counts once the stream has stopped
            faded = np.exp(after / -np.maximum(fades_s, 1e-3)[:, None])
            before = before + left[:, None] * faded * stopped
        return np.asarray(before)

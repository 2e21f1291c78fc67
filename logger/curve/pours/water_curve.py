"""The curve of water alone, as the search for pours takes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.shapes import Response
from logger.curve.readings.runs import Flags

ENOUGH_SEEN_S, SEEN_AGAIN_S = 0.6, 1.5
"""So long a level shows at the least, beside an end; and after what hid it."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Water alone: the samples and the grid with steps and disturbances taken out.

    :param replaced: samples that were drawn, not measured; edges are fitted without them
    """

    time_s: Floats
    weight_g: Floats
    replaced: Flags
    grid_s: Floats
    grid_g: Floats
    step_s: float
    noise_g: float
    response: Response

    @property
    def grid_noise_g(self) -> float:
        """Noise of one value of the grid, each of which is a mean over its step."""
        span_s = max(float(self.time_s[-1] - self.time_s[0]), 1e-9)
        each = max(self.step_s * self.time_s.size / span_s, 1.0)
        return self.noise_g / float(np.sqrt(each))

    def measured(self, from_s: float, to_s: float) -> tuple[Floats, Floats]:
        """Give times and weights of the samples between two times, both included, but for drawn ones."""
        first, last = self.time_s.searchsorted(from_s), self.time_s.searchsorted(to_s, side="right")
        time, weight = self.time_s[first:last], self.weight_g[first:last]
        drawn = self.replaced[first:last]
        return (time[~drawn], weight[~drawn]) if drawn.any() else (time, weight)

    def seen_until_s(self, end_s: float, until_s: float) -> float:
        """Look on, where hardly anything was seen between an end and the time until which one would look.

        A vessel's step or a knock right after a pour hides the level after it.
        """
        first, last = self.time_s.searchsorted([end_s, until_s])
        if last == self.time_s.size or not self.replaced[last - 1]:
            return until_s
        seen = np.flatnonzero(~self.replaced[first:last])
        if seen.size and self.time_s[first + seen[-1]] > end_s + ENOUGH_SEEN_S:
            return until_s
        again = np.flatnonzero(~self.replaced[last:])
        return float(self.time_s[last + again[0]]) + SEEN_AGAIN_S if again.size else until_s

    @property
    def gaps_s(self) -> list[tuple[float, float]]:
        """The last reading before each silence, and the first after it."""
        steps = np.diff(self.time_s)
        usual_s = float(self.time_s[-1] - self.time_s[0]) / max(self.time_s.size - 1, 1)
        at = np.flatnonzero(steps > max(1.0, 5.0 * usual_s))
        return [(float(self.time_s[i]), float(self.time_s[i + 1])) for i in at]

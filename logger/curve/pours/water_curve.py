"""The curve of water alone, as the search for pours takes it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from logger.curve.brew import Floats
from logger.curve.edges.shapes import Response
from logger.curve.readings.runs import Flags
from logger.curve.readings.timebase import silences_s

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
    measured_s: Floats = field(init=False)
    """Times of the samples but for drawn ones, with ``measured_g`` their weights."""
    measured_g: Floats = field(init=False)
    grid_noise_g: float = field(init=False)
    """Noise of one value of the grid, each of which is a mean over its step."""
    gaps_s: tuple[tuple[float, float], ...] = field(init=False)
    """The last reading before each silence, and the first after it."""

    def __post_init__(self) -> None:
        """Work out once what every stretch of flow asks for."""
        time, weight = self.time_s, self.weight_g
        if self.replaced.any():
            seen = ~self.replaced
            time, weight = time[seen], weight[seen]
        object.__setattr__(self, "measured_s", time)
        object.__setattr__(self, "measured_g", weight)
        span_s = float(self.time_s[-1] - self.time_s[0])
        each = max(self.step_s * self.time_s.size / max(span_s, 1e-9), 1.0)
        object.__setattr__(self, "grid_noise_g", self.noise_g / math.sqrt(each))
        longest_s = max(1.0, 5.0 * span_s / max(self.time_s.size - 1, 1))
        object.__setattr__(self, "gaps_s", tuple(silences_s(self.time_s, longest_s)))

    def measured(self, from_s: float, to_s: float) -> tuple[Floats, Floats]:
        """Give times and weights of the samples between two times, both included, but for drawn ones."""
        time = self.measured_s
        within = slice(time.searchsorted(from_s), time.searchsorted(to_s, side="right"))
        return time[within], self.measured_g[within]

    def all_measured(self, from_s: float, to_s: float) -> bool:
        """Whether no sample between two times was drawn."""
        first, last = self.time_s.searchsorted([from_s, to_s]).tolist()
        return not self.replaced[first : last + 1].any()

    def half_way_s(self, end_s: float, start_s: float) -> float:
        """Until when what is seen between an end and the next start is counted to the end: half-way; but all
        of it, where nothing is seen before that.
        """
        half_way_s = 0.5 * (end_s + start_s)
        return half_way_s if self._level_seen_s(end_s) < half_way_s else start_s

    def seen_until_s(self, end_s: float, until_s: float) -> float:
        """Look on, where hardly anything was seen between an end and the time until which one would look.

        A vessel's step, a knock or a silence right after a pour hides the level after it.
        """
        seen_s = self._level_seen_s(end_s)
        return max(until_s, seen_s + SEEN_AGAIN_S) if seen_s < math.inf else until_s

    def _level_seen_s(self, end_s: float) -> float:
        """When the level after an end has come to be seen; never, where no reading comes any more.

        After a silence it is what it was, once the display is there; after a vessel's step it is known no
        better than that.
        """
        shown_s = end_s + ENOUGH_SEEN_S + self.response.delay_s
        silent = any(since_s < shown_s and until_s > end_s for since_s, until_s in self.gaps_s)
        at = int(self.measured_s.searchsorted(shown_s if silent else end_s + ENOUGH_SEEN_S))
        return float(self.measured_s[at]) if at < self.measured_s.size else math.inf

"""Weight and flow up to this very moment, from readings that come late, in bursts, and some not at all.

A straight line is fitted to the last second. Of readings that arrive in one burst only the last is looked at:
it is the freshest, and all bursts are then equally late. Between two readings the line is followed on, for as
long as a slow scale keeps silent, and no longer.
"""

from __future__ import annotations

from collections import deque

HAND_S, MACHINE_S = 1.0, 1.5
"""Over how long the line is fitted: a hand wobbles, a machine is steady but its pump shakes the pan."""

LEAST, MOST = 4, 64
ONE_BURST_S = 0.005
FOLLOWED_S, FOLLOWED_PACES = 0.5, 1.5


class Stream:
    """Give it every reading of a scale; it knows weight and flow at any later moment.

    :param window_s: over how long the line is fitted
    """

    def __init__(self, window_s: float = HAND_S) -> None:
        self._window_s = window_s
        self._last: deque[tuple[float, float]] = deque(maxlen=MOST)
        self._arrived_s = self._pace_s = 0.0
        self._middle_s = 0.0
        self.middle_g = 0.0
        """The mean of the last second, or a little more."""
        self.flow_g_s = 0.0
        """The slope of the line; may be anything while vessels are moved."""

    def push(self, time_s: float, weight_g: float) -> None:
        """Take one reading."""
        last = self._last
        if last and time_s - self._arrived_s < ONE_BURST_S:
            last[-1] = (last[-1][0], weight_g)
        else:
            self._pace_s = time_s - self._arrived_s if last else 0.0
            last.append((time_s, weight_g))
        self._arrived_s = time_s
        while len(last) > LEAST and time_s - last[0][0] > self._window_s:
            last.popleft()
        self._fit()

    def weight_g(self, time_s: float) -> float:
        """The weight that the scale would show now, noise averaged out."""
        if not self._last:
            return 0.0
        until_s = min(time_s, self._arrived_s + max(FOLLOWED_S, FOLLOWED_PACES * self._pace_s))
        return self.middle_g + self.flow_g_s * (until_s - self._middle_s)

    def _fit(self) -> None:
        count = len(self._last)
        self._middle_s = sum(time_s for time_s, _ in self._last) / count
        self.middle_g = sum(weight_g for _, weight_g in self._last) / count
        spread = sum((time_s - self._middle_s) ** 2 for time_s, _ in self._last)
        rise = sum((t - self._middle_s) * (w - self.middle_g) for t, w in self._last)
        self.flow_g_s = rise / spread if spread > 1e-4 else 0.0

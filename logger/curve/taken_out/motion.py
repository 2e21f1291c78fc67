"""Whether the weight moves, how fast, since when: by a quick slope, reading by reading."""

from __future__ import annotations

from collections import deque

from logger.curve.taken_out.fast_water import FASTEST_FILL_G_S, FASTEST_POUR_G_S, FILLS_S

QUICK_S = 0.8
RUNS_G_S = 0.7
RESTS_G_S = 0.15
"""A display that moves less rests; between the two it may be the first drops of an espresso."""

STEADY = 0.7
STEADY_S = 1.2
"""So long must flow steadily what came right after a vessel. What a slow scale (two stages of 0.8 s) still
shows of the vessel falls to the share above within 0.6 s."""


class Motion:
    """Give it every reading; it knows how the weight moves."""

    def __init__(self) -> None:
        self._last: deque[tuple[float, float]] = deque()
        self._steady_since_s = self._steady_g_s = self._steady_from_g = 0.0
        self._jumped_from_g = 0.0
        self._is_vessel, self._is_over = False, True
        self.slope_g_s = 0.0
        """Weight gained over the last moment, by its time."""
        self.rises_g_s = 0.0
        """The same where it rises as water does; 0 where it does not."""
        self.runs_since_s = 0.0
        """Since when it moves, while it does."""
        self.rests_since_s: float | None = None
        """Since when it rests, None while it moves."""
        self.from_g = 0.0
        """The level at which it rested last."""
        self.jumped = False
        """Whether it has moved faster than water since it rested, and has not flowed steadily since."""

    @property
    def shown_g(self) -> float:
        """The last reading."""
        return self._last[-1][1]

    @property
    def gained_g(self) -> float:
        """The last reading less the level at which the weight rested last."""
        return self._last[-1][1] - self.from_g

    @property
    def least_gained_g(self) -> float:
        """The same of the lowest reading of the last moment, which stirring shows, too."""
        return min(weight_g for _, weight_g in self._last) - self.from_g

    def push(self, time_s: float, weight_g: float) -> bool:
        """Take one reading; say whether the weight moves."""
        slope_g_s = self.slope_g_s = self._slope(time_s, weight_g)
        if -RUNS_G_S <= slope_g_s <= RUNS_G_S:
            if self.rests_since_s is None:
                self._comes_to_rest(time_s, weight_g)
            self.rises_g_s = slope_g_s if slope_g_s > 0.0 else 0.0
            return False
        self.rests_since_s = None
        if self._is_over:
            self.runs_since_s, self._is_over = time_s, False
        if self.jumped or not -FASTEST_POUR_G_S < slope_g_s < FASTEST_POUR_G_S:
            self._jump(time_s, slope_g_s)
        self.rises_g_s = 0.0 if self.jumped or slope_g_s < 0.0 else slope_g_s
        return True

    def settled(self) -> None:
        """Take the present level as the one that what comes is counted from, unless it still creeps."""
        if abs(self.slope_g_s) < RESTS_G_S:
            last = self._last
            self.from_g = 0.25 * (last[0][1] + last[1][1] + last[-2][1] + last[-1][1])

    def ended(self, level_g: float) -> None:
        """Know that a stream has ended, and at what level: what comes is counted from there."""
        self.from_g, self._is_over = level_g, True

    def start_over(self) -> None:
        """Forget the readings so far, not the level."""
        self._last.clear()
        self.rests_since_s, self._is_over = None, True
        self.jumped = self._is_vessel = False
        self._steady_g_s = 0.0

    def _comes_to_rest(self, time_s: float, weight_g: float) -> None:
        self.rests_since_s = time_s
        self._is_over = True
        self._landed(weight_g)
        self._steady_g_s = 0.0

    def _landed(self, at_g: float) -> None:
        """Know that a jump is over; a vessel or a tare takes the level with it that is counted from."""
        if self._is_vessel:
            self.from_g += at_g - self._jumped_from_g
        self.jumped = self._is_vessel = False

    def _jump(self, time_s: float, slope_g_s: float) -> None:
        """Tell a vessel, and what a slow scale still shows of it, from a stream by its steadiness."""
        if not self.jumped:
            self.jumped, self._jumped_from_g = True, self._last[0][1]
        self._is_vessel = self._is_vessel or abs(slope_g_s) >= FASTEST_FILL_G_S or slope_g_s < 0.0
        if not STEADY * self._steady_g_s < slope_g_s < self._steady_g_s / STEADY:
            self._steady_since_s, self._steady_g_s = time_s, max(slope_g_s, 0.0)
            self._steady_from_g = self.shown_g
        lasts_s = STEADY_S if slope_g_s < FASTEST_POUR_G_S else FILLS_S
        if slope_g_s >= FASTEST_FILL_G_S or time_s - self._steady_since_s < lasts_s:
            return
        if self._is_vessel:
            self.runs_since_s = self._steady_since_s
        self._landed(self._steady_from_g)

    def _slope(self, time_s: float, weight_g: float) -> float:
        """Ends averaged in pairs against noise."""
        last = self._last
        last.append((time_s, weight_g))
        while len(last) > 4 and time_s - last[1][0] >= QUICK_S:
            last.popleft()
        if len(last) < 4:
            return 0.0
        (t0, w0), (t1, w1), (t2, w2) = last[0], last[1], last[-2]
        lasted_s = t2 + time_s - t0 - t1
        return (w2 + weight_g - w0 - w1) / (lasted_s if lasted_s > 0.05 else 0.05)

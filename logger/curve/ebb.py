"""When a stream seems to have ended, long before the weight has come to rest.

Stirring may follow at once, and a noisy display never rests: so the readings are worth a look as soon as the
slope has fallen to a part of what it was, and again a little later where that was too early.
"""

from __future__ import annotations

import math

FALLEN = 0.5
"""Of the stream's flow: it may have ended. A hand that lets it halve only costs a look."""

RUNS_ON = 0.6
RUNS_ON_WITHIN_S = 0.35
"""What is higher than that again so soon after it had fallen has not ended; later it may be stirring."""

LEAST_STREAM_G_S = 0.9
RISES_S, FADES_S = 0.5, 4.0
"""How soon the flow that is taken for the stream's own follows one that is higher, and one that is lower."""

SEEN_S, SEEN_THIN_S = 0.35, 0.65
"""For how long the readings go on after the fall until they are looked at; an espresso fades."""

THIN_G_S = 3.0
AGAIN_S, SELDOM_S = 0.4, 2.4
"""Until they are looked at again, twice as long each time, and no longer than that."""

PACE = 0.03
LONGEST_PACE_S = 1.0
"""How fast the usual time between two readings is learned, and what is no such time."""


class Ebb:
    """Give it every slope; it says when to look whether the stream has ended."""

    def __init__(self) -> None:
        self._time_s, self._pace_s = -math.inf, 0.1
        self._flow_g_s = self._left_g_s = 0.0
        self._since_fall_s: float | None = None
        self._looks, self._next_look_s = 0, 0.0

    def follow(self, time_s: float, slope_g_s: float, is_like_water: bool) -> bool:
        """Follow the weight; say whether to look now.

        Time is counted by readings: those of a burst arrive at once, and tell of all of their time.
        """
        lasted_s, self._time_s = time_s - self._time_s, time_s
        if lasted_s < LONGEST_PACE_S:
            self._pace_s += PACE * (lasted_s - self._pace_s)
        flow_g_s = self._flow_g_s
        if not flow_g_s:
            self._begin(slope_g_s if is_like_water else 0.0)
            return False
        fallen = not is_like_water or slope_g_s < FALLEN * flow_g_s
        if not fallen:
            within_s = RISES_S if slope_g_s > flow_g_s else FADES_S
            self._flow_g_s += (slope_g_s - flow_g_s) * min(self._pace_s / within_s, 1.0)
        since_s = self._since_fall_s
        if since_s is None:
            self._since_fall_s = self._pace_s if fallen else None
            return False
        if is_like_water and slope_g_s > RUNS_ON * flow_g_s and (since_s < RUNS_ON_WITHIN_S or self._looks):
            self._since_fall_s = None
            return False
        self._since_fall_s = since_s + self._pace_s
        seen_s = SEEN_S if flow_g_s > THIN_G_S else SEEN_THIN_S
        return self._since_fall_s > seen_s and time_s >= self._next_look_s

    def looked(self, slope_g_s: float) -> None:
        """Know that the readings were looked at and did not tell: what flows now may be the stream."""
        self._next_look_s = self._time_s + min(AGAIN_S * 2.0**self._looks, SELDOM_S)
        self._looks += 1
        if slope_g_s > LEAST_STREAM_G_S:
            self._flow_g_s = min(self._flow_g_s, slope_g_s / RUNS_ON)

    def over(self, slope_g_s: float = 0.0) -> None:
        """Know that the stream has ended, or that it was none.

        :param slope_g_s: what a slow display still shows of it; only what is more is another stream
        """
        self._left_g_s = slope_g_s / RUNS_ON
        self._flow_g_s, self._since_fall_s, self._looks, self._next_look_s = 0.0, None, 0, 0.0

    def _begin(self, slope_g_s: float) -> None:
        """Wait for a stream."""
        if slope_g_s < LEAST_STREAM_G_S:
            self._left_g_s = 0.0
        elif slope_g_s > self._left_g_s:
            self._flow_g_s = slope_g_s

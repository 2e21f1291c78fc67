"""When a stream seems to have ended, long before the weight has come to rest.

Stirring may follow at once, and a noisy display never rests: so the readings are worth a look as soon as the
slope has fallen to a part of what it was, and again a little later where that was too early.
"""

from __future__ import annotations

import math

FALLEN = 0.5
"""Of the stream's flow: it may have ended. A hand that lets it halve only costs a look."""

FALLEN_SLOWLY, SLOW_DELAY_S, MOST_FALLEN = 0.35, 0.6, 0.75
"""Of a slow scale's display less of a fall is enough: by so much for each second of delay beyond the next,
and no more than the last. Through two stages of 0.65 s the slope over the last 0.8 s has fallen to three
quarters a second after the stream stopped, to half only half a second later."""

RUNS_ON = 0.05
"""What is higher again by that, after it had fallen, has not ended; or is stirred, and soon falls anew."""

LEAST_STREAM_G_S = 0.9
FLOWED_ON_S = 3.0
"""What flows on for so long after a look falls anew: it is looked at as soon as if never before."""

LEFT_S = 1.6
"""So long a slow display (two stages of 0.8 s) goes on showing a stream that has ended."""

RISES_S, FADES_S = 0.5, 4.0
"""How soon the flow that is taken for the stream's own follows one that is higher, and one that is lower."""

SEEN_S, SEEN_THIN_S = 0.35, 0.45
"""For how long the readings go on after the fall until they are looked at; an espresso fades."""

THIN_G_S = 3.0
AGAIN_S, SELDOM_S = 0.4, 2.4
"""Until they are looked at again: twice, then twice as long each time, and no longer than the other."""

SOONEST_S = 0.1
"""No sooner than that; what comes before it came in the same message."""

GOES_ON = 0.75
"""What flows with so much of what it did at the last look has not ended since: it is not looked at again
before it falls further."""

PACE = 0.03
LONGEST_PACE_S = 1.0
"""How fast the usual time between two readings is learned, and what is no such time."""

TOGETHER = 0.25
"""In usual times: what comes sooner after another reading came in one message with it."""


class Ebb:
    """Give it every slope; it says when to look whether the stream has ended.

    Time is counted by readings: those of a message arrive at once, and tell of all of its time. A radio packs
    as many into each: what has come of one that is not whole yet seems later than it is, and nobody looks.
    """

    def __init__(self) -> None:
        self._time_s, self._pace_s = -math.inf, 0.1
        self._packed = self._came = 1
        self._packed_before = 1
        self._fallen = FALLEN
        self._now_s = 0.0
        self._flow_g_s = self._left_g_s = 0.0
        self._fell_s: float | None = None
        self._looks, self._next_look_s, self._looked_at_g_s = 0, 0.0, math.inf

    @property
    def is_whole(self) -> bool:
        """Whether as many readings came together as in the smaller of the last two messages."""
        return self._came >= self._packed

    def is_shown_late(self, delay_s: float) -> None:
        """Know the scale's delay."""
        slower_s = max(delay_s - SLOW_DELAY_S, 0.0)
        self._fallen = min(FALLEN + FALLEN_SLOWLY * slower_s, MOST_FALLEN)

    @property
    def _runs_on(self) -> float:
        """The share of the stream's flow above which it has not ended."""
        return self._fallen + RUNS_ON

    def follow(self, time_s: float, rises_g_s: float) -> bool:
        """Follow the weight; say whether to look now.

        :param rises_g_s: its slope where it rises as water does, 0 where it does not
        """
        lasted_s, self._time_s = time_s - self._time_s, time_s
        pace_s = self._pace_s
        if lasted_s > TOGETHER * pace_s:
            came, before = self._came, self._packed_before
            self._packed = came if came < before else before
            self._packed_before, self._came = came, 1
        else:
            self._came += 1
        if lasted_s < LONGEST_PACE_S:
            pace_s += PACE * (lasted_s - pace_s)
            self._pace_s = pace_s
        now_s = self._now_s = self._now_s + pace_s
        flow_g_s = self._flow_g_s
        if not flow_g_s:
            if rises_g_s >= LEAST_STREAM_G_S or self._left_g_s:
                self._begin(rises_g_s)
            return False
        fallen = rises_g_s < self._fallen * flow_g_s
        if not fallen:
            within_s = RISES_S if rises_g_s > flow_g_s else FADES_S
            self._flow_g_s += (rises_g_s - flow_g_s) * min(pace_s / within_s, 1.0)
        fell_s = self._fell_s
        if fell_s is None:
            if fallen:
                self._falls(now_s)
            return False
        since_s = now_s - fell_s
        if rises_g_s > self._runs_on * flow_g_s:
            self._fell_s = None
            return False
        seen_s = SEEN_S if flow_g_s > THIN_G_S else SEEN_THIN_S
        if since_s <= seen_s or now_s < self._next_look_s or self._came < self._packed:
            return False
        return rises_g_s < max(GOES_ON * self._looked_at_g_s, LEAST_STREAM_G_S)

    def looked(self, slope_g_s: float, sees_in_s: float | None = None) -> None:
        """Know that the readings were looked at and did not tell: what flows now may be the stream.

        :param sees_in_s: in what time enough of an end will have been seen, where one was
        """
        again_s = min(AGAIN_S * 2.0 ** max(self._looks - 1, 0), SELDOM_S)
        if sees_in_s is not None:
            again_s = max(min(sees_in_s, again_s), 0.5 * again_s if self._looks else SOONEST_S)
        elif slope_g_s > LEAST_STREAM_G_S:
            self._flow_g_s = min(self._flow_g_s, slope_g_s / self._runs_on)
        self._next_look_s, self._looked_at_g_s = self._now_s + again_s, slope_g_s
        self._looks += 1

    def over(self, slope_g_s: float = 0.0) -> None:
        """Know that the stream has ended, or that it was none.

        :param slope_g_s: what a slow display still shows of it; only what is more is another stream
        """
        self._left_g_s = slope_g_s / self._runs_on
        self._flow_g_s, self._fell_s = 0.0, None
        self._looks, self._next_look_s, self._looked_at_g_s = 0, 0.0, math.inf

    def _falls(self, now_s: float) -> None:
        self._fell_s = now_s - self._pace_s
        if now_s > self._next_look_s + FLOWED_ON_S:
            self._looks, self._looked_at_g_s = 0, math.inf

    def _begin(self, slope_g_s: float) -> None:
        """Wait for a stream."""
        if slope_g_s < LEAST_STREAM_G_S:
            self._left_g_s = 0.0
        elif slope_g_s > self._left_g_s:
            self._flow_g_s = slope_g_s
        else:
            self._left_g_s -= self._left_g_s * min(self._pace_s / LEFT_S, 1.0)

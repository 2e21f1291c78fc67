"""The same events and pours while they happen.

A quick slope over the last moment says whether water is running now. As soon as it has been quiet for a
while, the stretch of readings since it was last quiet is read by the same code as a whole recording, and what
that finds is final but for what a later reading can still change (dry coffee, until the tare that follows).
Readings older than the last quiet stretch are forgotten, so that memory stays bounded.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, replace
from typing import Literal, Protocol

import numpy as np

from logger.curve.analysis import check_method, holds_enough
from logger.curve.brew import Event, Method, Pour
from logger.curve.drift import drifts_of
from logger.curve.method import find_method
from logger.curve.response import USUAL
from logger.curve.shapes import Response
from logger.curve.steps import FASTEST_POUR_G_S
from logger.curve.timebase import HEAVIEST_G, samples_from
from logger.curve.water import Read, read_samples

QUICK_S = 0.8
RUNS_G_S = 0.7
RESTS_G_S = 0.15
"""A display that moves less rests; between the two it may be the first drops of an espresso."""
SETTLED_S = 1.6
KEPT_S = 12.0
KEPT_READINGS = 150
CLEAR_S = 3.0
TELLING_POURS = 1
"""So many pours' edges tell the scale's lag, where no vessel's step has."""
MOST_READINGS = 8192
LONGEST_SILENCE_S = 3600.0

ChangeKind = Literal["pour-began", "pour-withdrawn", "pour-ended", "event"]


class Expectation(Protocol):
    """What of a target the live analysis can make use of."""

    @property
    def method(self) -> Method:
        """The kind of brew."""

    @property
    def total_g(self) -> float:
        """Water in all."""


@dataclass(frozen=True, slots=True)
class Change:
    """What has just become known.

    ``pour-began``: water is running, since about ``time_s``. ``pour-withdrawn``: it was no water after all.
    ``pour-ended``: ``pour`` is over. ``event``: ``event`` happened.
    """

    kind: ChangeKind
    time_s: float
    pour: Pour | None = None
    event: Event | None = None


class LiveAnalysis:
    """Give it every reading of the scale as it arrives; it says what has become known.

    :param method: the kind of brew, or None to find out
    :param target: what the brew should be, where known: its total helps to tell a dose from water
    :raises ValueError: when the method is none
    """

    def __init__(self, method: Method | None = None, target: Expectation | None = None) -> None:
        check_method(method)
        self._method = method or (target.method if target else None)
        self._expected_g = target.total_g if target else 250.0
        self._time: list[float] = []
        self._weight: list[float] = []
        self._quick: deque[tuple[float, float]] = deque()
        self._runs_since_s: float | None = None
        self._quiet_since_s: float | None = None
        self._to_read = False
        self._rest_g = 0.0
        self._jumped = False
        self._began: float | None = None
        self._earlier: list[Pour] = []
        self._recent: list[Pour] = []
        self._events: list[Event] = []
        self._said_until_s = -math.inf
        self._response: Response | None = None
        self._assumed: Response | None = None
        self.flow_g_s = 0.0
        """Flow now, g/s; 0 while no water runs."""

    @property
    def pours(self) -> tuple[Pour, ...]:
        """The pours that are over, in order."""
        return (*self._earlier, *self._recent)

    @property
    def events(self) -> tuple[Event, ...]:
        """The events known so far, in order."""
        return tuple(self._events)

    @property
    def method(self) -> Method | None:
        """As given, or as the pours so far suggest; None before the first is over."""
        return self._method or (find_method(self.pours, self.events) if self.pours else None)

    @property
    def start_s(self) -> float | None:
        """When the first water reached the pan, None before."""
        return self.pours[0].start_s if self.pours else self._began

    @property
    def pouring(self) -> bool:
        """Whether water is running now."""
        return self._began is not None

    @property
    def lag_s(self) -> float:
        """By how much ``flow_g_s`` is late: half the window it is taken over, and the scale's own delay.

        ``poured_g`` is not late while the flow is steady: what is on its way to the display is added.
        """
        return 0.5 * QUICK_S + (self._response or self._assumed or USUAL).delay_s

    @property
    def quiet_s(self) -> float:
        """For how long the weight has not moved, up to the last reading."""
        return self._time[-1] - self._quiet_since_s if self._quiet_since_s is not None else 0.0

    @property
    def poured_g(self) -> float:
        """Water so far, with what is still on its way to the display."""
        done_g = self.pours[-1].to_g if self.pours else 0.0
        if self._began is None or not self._weight:
            return done_g
        late_g = self.flow_g_s * (self._response or self._assumed or USUAL).delay_s
        return done_g + max(self._quick[-1][1] - self._rest_g, 0.0) + late_g

    def push(self, time_s: float, weight_g: float) -> list[Change]:
        """Take one reading of the scale.

        :param time_s: when it arrived; a time before the last one's is taken as the last one's
        :param weight_g: g; a value that is not finite, or that no scale shows, is passed over
        """
        if not math.isfinite(time_s) or not abs(weight_g) <= HEAVIEST_G:
            return []
        if self._time and time_s < self._time[-1]:
            time_s = self._time[-1]
        if self._time and time_s - self._time[-1] > LONGEST_SILENCE_S:
            self._start_over()
        self._time.append(time_s)
        self._weight.append(weight_g)
        slope_g_s = self._quick_slope(time_s, weight_g)
        if abs(slope_g_s) > RUNS_G_S:
            return self._moves(time_s, slope_g_s)
        return self._rests(time_s, slope_g_s)

    def finish(self) -> list[Change]:
        """Say what can be said of the readings so far, now that no more will come."""
        if not self._to_read or not self._time:
            return []
        self._to_read = False
        return self._read_again(self._time[-1])

    def _start_over(self) -> None:
        """Forget the readings, not the pours: after so long a silence they say nothing of what comes."""
        self._earlier, self._recent = [*self._earlier, *self._recent], []
        self._time, self._weight = [], []
        self._quick.clear()
        self._runs_since_s = self._quiet_since_s = self._began = None
        self._to_read = False
        self.flow_g_s = 0.0

    def _quick_slope(self, time_s: float, weight_g: float) -> float:
        """Weight gained over the last moment, by its time; ends averaged in pairs against noise."""
        quick = self._quick
        quick.append((time_s, weight_g))
        while len(quick) > 4 and time_s - quick[1][0] >= QUICK_S:
            quick.popleft()
        if len(quick) < 4:
            return 0.0
        (t0, w0), (t1, w1), (t2, w2), (t3, w3) = quick[0], quick[1], quick[-2], quick[-1]
        return (w2 + w3 - w0 - w1) / max(t2 + t3 - t0 - t1, 0.05)

    def _quick_middle_g(self) -> float:
        """The level over the last moment, by the readings at its ends."""
        quick = self._quick
        return 0.25 * (quick[0][1] + quick[1][1] + quick[-2][1] + quick[-1][1])

    def _moves(self, time_s: float, slope_g_s: float) -> list[Change]:
        self._quiet_since_s = None
        self._to_read = True
        if self._runs_since_s is None:
            self._runs_since_s = time_s
        like_water = 0.0 < slope_g_s < FASTEST_POUR_G_S
        # A vessel that a slow scale still settles on rises like water, too.
        self._jumped = self._jumped or slope_g_s >= FASTEST_POUR_G_S
        self.flow_g_s = slope_g_s if like_water and self._began is not None else 0.0
        gained_g = self._quick[-1][1] - self._rest_g
        long_enough = time_s - self._runs_since_s > 0.5 and gained_g > 1.5
        if self._began is None and like_water and long_enough and not self._jumped:
            self._began = self._runs_since_s - QUICK_S / 2
            return [Change("pour-began", self._began)]
        return self._bounded()

    def _rests(self, time_s: float, slope_g_s: float) -> list[Change]:
        self._runs_since_s = None
        self._jumped = False
        self.flow_g_s = 0.0
        if self._quiet_since_s is None:
            self._quiet_since_s = time_s
        if time_s - self._quiet_since_s < SETTLED_S:
            return []
        if self._to_read:
            self._to_read = False
            changes = self._read_again(time_s)
        else:
            changes = []
        if abs(slope_g_s) < RESTS_G_S:
            self._rest_g = self._quick_middle_g()
        self._forget(time_s)
        return changes

    def _read_again(self, time_s: float) -> list[Change]:
        """Read what is kept by the code for whole recordings, and say what is new."""
        samples = samples_from(self._time, self._weight)
        began, self._began = self._began, None
        if not holds_enough(samples):
            return []
        read = read_samples(samples, self._response, self._expected_g, self._assumed, with_course=False)
        self._response = self._response or read.response
        if len(read.pours) >= TELLING_POURS:
            self._assumed = read.curve.response
        changes = [*self._new_events(read), *self._new_pours(read)]
        if began is not None and not any(change.kind == "pour-ended" for change in changes):
            changes.append(Change("pour-withdrawn", began))
        self._said_until_s = time_s
        return changes

    def _new_events(self, read: Read) -> list[Change]:
        since_s = self._time[0]
        known = [event for event in self._events if event.start_s < since_s]
        found = sorted((*read.events, *drifts_of(read, is_over=False)), key=lambda event: event.start_s)
        fresh = [event for event in found if event.start_s >= since_s]
        told = [event for event in self._events if event.start_s >= since_s]
        self._events = [*known, *fresh]
        return [
            Change("event", event.end_s, event=event)
            for event in fresh
            if not any(
                other.kind == event.kind and abs(other.start_s - event.start_s) < 1.0 for other in told
            )
        ]

    def _new_pours(self, read: Read) -> list[Change]:
        before, self._recent = self._recent, []
        done_g = self._earlier[-1].to_g if self._earlier else 0.0
        changes = []
        for pour in read.pours:
            shifted = replace(pour, from_g=done_g + pour.from_g, to_g=done_g + pour.to_g)
            self._recent.append(shifted)
            if not any(_overlap(other, shifted) for other in before):
                changes.append(Change("pour-ended", pour.end_s, pour=shifted))
        gone = [pour for pour in before if not any(_overlap(pour, other) for other in self._recent)]
        return [*(Change("pour-withdrawn", pour.start_s, pour=pour) for pour in gone), *changes]

    def _forget(self, time_s: float) -> None:
        """Drop readings that are older than the last quiet stretch and some."""
        if time_s - self._time[0] < 1.5 * KEPT_S or len(self._time) < 1.5 * KEPT_READINGS:
            return
        keep_from_s = min(time_s - KEPT_S, self._time[-KEPT_READINGS])
        if any(pour.start_s - CLEAR_S < keep_from_s <= pour.end_s + CLEAR_S for pour in self._recent):
            return
        settled = [pour for pour in self._recent if pour.end_s < keep_from_s]
        self._earlier.extend(settled)
        self._recent = self._recent[len(settled) :]
        first = int(np.searchsorted(self._time, keep_from_s))
        del self._time[:first], self._weight[:first]

    def _bounded(self) -> list[Change]:
        """Thin out the older half of a flow that does not want to end."""
        if len(self._time) > MOST_READINGS:
            half = MOST_READINGS // 2
            self._time[:half] = self._time[:half:2]
            self._weight[:half] = self._weight[:half:2]
        return []


def _overlap(one: Pour, other: Pour) -> bool:
    return min(one.end_s, other.end_s) > max(one.start_s, other.start_s)

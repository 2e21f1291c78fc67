"""The same events and pours while they happen.

A quick slope over the last moment says whether water is running now. As soon as it has fallen as it does when
a stream ends, the readings that are kept are read by the same code as a whole recording; where that sees the
end, the pour is over. A little later it is looked at again, where it was not sure; and once the weight rests.
What that finds is final but for what a later reading can still change (dry coffee, until the tare that
follows). Readings older than the last quiet stretch are forgotten, so that memory stays bounded.
"""

from __future__ import annotations

import math

import numpy as np

from logger.curve.analysis import check_method, holds_enough
from logger.curve.brew import Event, Method, Pour
from logger.curve.edges.shapes import Response
from logger.curve.live.again import Again
from logger.curve.live.ebb import Ebb
from logger.curve.live.seen_whole import edges_seen_whole
from logger.curve.live.told import Change, ChangeKind, Told
from logger.curve.pours.method import Expectation, find_method
from logger.curve.pours.settled import NOTHING_SETTLED
from logger.curve.readings.kept import MOST_READINGS, Kept
from logger.curve.readings.timebase import HEAVIEST_G, Samples
from logger.curve.scale.lag import Lags
from logger.curve.scale.response import USUAL
from logger.curve.taken_out.motion import QUICK_S, Motion
from logger.curve.water import Read, read_samples

__all__ = ["MOST_READINGS", "QUICK_S", "Change", "ChangeKind", "Expectation", "LiveAnalysis"]

BEGINS_S, BEGINS_G = 0.5, 1.5
"""So long and so much it rises like water before it is said to be."""

SHORTEST_S, SHORTEST_FIRST_S = 0.5, 2.4
"""What seems to end sooner is not looked at before it rests; a first rise as short as that is dry coffee."""

SETTLED_S = 1.6
SEEN_S, SEEN_DELAY = 0.3, 0.1
"""So much of the level after an end is seen at the least, and that much more in delays of the scale."""

FORGETS_EVERY_S = 1.0
UNSETTLED_S = 1.5
"""What moved so lately may yet be taken for a knock or for stirring."""
TELLING_POURS = 1
"""So many pours' edges tell the scale's lag, where no vessel's step has."""
LONGEST_SILENCE_S = 3600.0


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
        self._kept = Kept()
        self._motion, self._ebb, self._again, self._told = Motion(), Ebb(), Again(), Told()
        self._began: float | None = None
        self._last_s = self._all_told_s = self._forgets_at_s = -math.inf
        self._response: Response | None = None
        self._assumed: Response | None = None
        self._lags: Lags | None = None
        self._to_read, self._settled = False, NOTHING_SETTLED
        self.flow_g_s = 0.0
        """Flow now, g/s; 0 while no water runs."""

    @property
    def pours(self) -> tuple[Pour, ...]:
        """The pours that are over, in order."""
        return self._told.pours

    @property
    def events(self) -> tuple[Event, ...]:
        """The events known so far, in order."""
        return tuple(self._told.events)

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
        return 0.5 * QUICK_S + self._delay_s

    @property
    def quiet_s(self) -> float:
        """For how long the weight has not moved, up to the last reading."""
        since_s = self._motion.rests_since_s
        return self._last_s - since_s if since_s is not None else 0.0

    @property
    def poured_g(self) -> float:
        """Water so far, with what is still on its way to the display."""
        done_g = self.pours[-1].to_g if self.pours else 0.0
        if self._began is None or not self._kept:
            return done_g
        late_g = self.flow_g_s * self._delay_s
        return done_g + max(self._motion.gained_g, 0.0) + late_g

    @property
    def _delay_s(self) -> float:
        """The scale's own, as far as it is known."""
        return (self._response or self._assumed or USUAL).delay_s

    def push(self, time_s: float, weight_g: float) -> list[Change]:
        """Take one reading of the scale.

        :param time_s: when it arrived; a time before the last one's is taken as the last one's
        :param weight_g: g; a value that is not finite, or that no scale shows, is passed over
        """
        # A number out of an array takes twice as long to count with as one of Python's own.
        time_s, weight_g = float(time_s), float(weight_g)
        if not -HEAVIEST_G <= weight_g <= HEAVIEST_G:
            return []
        if not 0.0 <= time_s - self._last_s <= LONGEST_SILENCE_S:
            if not math.isfinite(time_s):
                return []
            time_s = self._after_break(time_s)
        self._last_s = time_s
        self._kept.append(time_s, weight_g)
        motion = self._motion
        changes = self._moves(time_s) if motion.push(time_s, weight_g) else self._rests(time_s)
        if self._ebb.follow(time_s, motion.rises_g_s):
            return [*changes, *self._look(time_s)]
        if time_s >= self._again.due_s and self._ebb.is_whole:
            return [*changes, *self._look_again(time_s)]
        return changes

    def finish(self) -> list[Change]:
        """Say what can be said of the readings so far, now that no more will come."""
        if not self._to_read or not self._kept:
            return []
        self._to_read = False
        return self._read_again()

    def _after_break(self, time_s: float) -> float:
        """Give the time that counts where it does not follow on the last one."""
        if not self._kept:
            return time_s
        if time_s < self._last_s:
            return self._last_s
        self._start_over()
        return time_s

    def _start_over(self) -> None:
        """Forget the readings, not the pours: after so long a silence they say nothing of what comes."""
        self._told.cut(math.inf, self._last_s)
        self._told.brews_anew(self._last_s)
        self._kept, self._settled = Kept(), NOTHING_SETTLED
        self._again.over()
        self._motion.start_over()
        self._ebb.over()
        self._began, self._to_read, self.flow_g_s = None, False, 0.0

    def _moves(self, time_s: float) -> list[Change]:
        motion = self._motion
        self._to_read = True
        if self._kept.is_full:
            self._thin_out()
        if self._began is not None:
            self.flow_g_s = motion.rises_g_s
            return []
        self.flow_g_s = 0.0
        if not motion.rises_g_s:
            return []
        since_s = motion.runs_since_s
        if time_s - since_s > BEGINS_S and motion.gained_g > BEGINS_G:
            self._began = since_s - QUICK_S / 2
            self._again.over()
            return [Change("pour-began", self._began)]
        return []

    def _rests(self, time_s: float) -> list[Change]:
        self.flow_g_s = 0.0
        since_s = self._motion.rests_since_s
        if since_s is None or time_s - since_s < SETTLED_S:
            return []
        changes = self._settles(time_s, since_s) if self._to_read else []
        self._motion.settled()
        if time_s >= self._forgets_at_s and not self._to_read:
            self._forget(time_s)
        return changes

    def _settles(self, time_s: float, since_s: float) -> list[Change]:
        """Read what has come to rest, unless nothing moved since its last pour was told and all is known."""
        if self._again.waits(time_s, since_s):
            return []
        self._to_read = False
        is_known = self._again.knows(since_s, self._all_told_s, self._kept.since(self._all_told_s))
        return [] if is_known and self._began is None else self._read_again()

    def _look(self, time_s: float) -> list[Change]:
        """Look whether the stream has ended, and say so where the reading sees its end."""
        motion = self._motion
        ran_s = time_s - (time_s if self._began is None else self._began)
        little = motion.least_gained_g < BEGINS_G and motion.gained_g > -BEGINS_G  # less is a lift
        if little or ran_s < (SHORTEST_S if self.pours else SHORTEST_FIRST_S):
            self._ebb.over(motion.slope_g_s)
            return []
        read = self._read(self._kept.samples(), only_over=True)
        if not read.pours:
            return self._look_at_solid(read, time_s)
        if self._told.has(read.pours[-1]):
            self._ebb.over(motion.slope_g_s)
            return []
        last, edges = read.pours[-1], read.edges[-1]
        sees_in_s = last.end_s + SEEN_S + SEEN_DELAY * read.curve.response.delay_s - time_s
        if edges.cut_off or sees_in_s > 0.0:
            self._ebb.looked(motion.slope_g_s, None if edges.cut_off else sees_in_s)
            return []
        self._ebb.over(motion.slope_g_s)
        return self._tell(read, time_s)

    def _look_at_solid(self, read: Read, time_s: float) -> list[Change]:
        """Say at once what rose and is no water, where its end was seen."""
        self._ebb.over(self._motion.slope_g_s)
        if not read.solids or read.solids[-1].end_s > time_s - SEEN_S:
            return []
        self._again.told_all(time_s)
        return self._conclude(read)

    def _look_again(self, time_s: float) -> list[Change]:
        """See more of an end that was told early."""
        read = self._read(self._kept.samples(), only_over=True)
        if not read.pours or read.edges[-1].cut_off:
            self._again.looked(time_s)
            return []
        return self._tell(read, time_s)

    def _tell(self, read: Read, time_s: float) -> list[Change]:
        """Say what was read of the last pour, which is over."""
        last, edges = read.pours[-1], read.edges[-1]
        self._began, self.flow_g_s = None, 0.0
        self._motion.ended(edges.end.level_g + self._offset_g(read))
        self._again.told(last, edges, time_s)
        return self._take(read, until_s=last.start_s)

    def _read_again(self) -> list[Change]:
        """Read what is kept by the code for whole recordings, and say what is new."""
        self._ebb.over()
        samples = self._kept.samples()
        return self._conclude(self._read(samples) if holds_enough(samples) else None)

    def _conclude(self, read: Read | None) -> list[Change]:
        """Say what a reading found; what seemed to run and was no water is withdrawn."""
        began, self._began = self._began, None
        changes = self._take(read) if read else []
        if began is not None and not any(change.kind == "pour-ended" for change in changes):
            changes.append(Change("pour-withdrawn", began))
        return changes

    def _read(self, samples: Samples, *, only_over: bool = False) -> Read:
        told = self._response, self._expected_g, self._assumed, self._settled, self._told.forgotten
        method, lags = self._method, self._lags
        read = read_samples(samples, *told, lags=lags, method=method, with_course=False, only_over=only_over)
        self._settled = edges_seen_whole(read, self._last_s - UNSETTLED_S)
        self._lags = read.lags or self._lags
        return read

    def _take(self, read: Read, until_s: float = math.inf) -> list[Change]:
        if self._motion.gained_g > -BEGINS_G:  # a lift that goes on shows no lag yet
            self._response = self._response or read.response
            if len(read.pours) >= TELLING_POURS:
                self._assumed = read.curve.response
        self._ebb.is_shown_late(self._delay_s)
        if until_s == math.inf:
            self._all_told_s = self._last_s
        return self._told.take(read, self._kept.first_s, self._last_s, until_s)

    def _offset_g(self, read: Read) -> float:
        """What the display shows more than the curve of water alone: vessels, less what was tared."""
        measured = np.flatnonzero(~read.curve.replaced)
        last = int(measured[-1]) if measured.size else -1
        return self._kept.weight_g(last) - float(read.curve.weight_g[last])

    def _forget(self, time_s: float) -> None:
        """Drop readings that are older than the last quiet stretch and some."""
        self._forgets_at_s = time_s + FORGETS_EVERY_S
        if self._kept.is_full:
            self._thin_out()
        kept, enough_s = self._kept, self._kept.enough_from_s(time_s)
        from_s = -math.inf if enough_s is None else self._told.clear_before(enough_s)
        if from_s <= kept.first_s:
            return
        self._told.cut(from_s, time_s)
        kept.drop_before(from_s)
        self._settled = NOTHING_SETTLED

    def _thin_out(self) -> None:
        self._kept.thin_out()
        self._settled = NOTHING_SETTLED

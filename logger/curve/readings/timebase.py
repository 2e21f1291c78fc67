"""The time base: when the readings were taken, and an even grid to work on.

Radios deliver readings in bursts: several arrive within a few milliseconds, then nothing for a while. The
last reading of a burst is the freshest, so a burst is spread backwards from its arrival over the time since
the burst before it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.median import median
from logger.curve.readings.runs import Flags

Places = np.ndarray[tuple[int], np.dtype[np.intp]]

SLOWEST_GRID_S = 1.0
FINEST_GRID_S = 0.1
GAP_S = 1.0
HEAVIEST_G = 1e7

SINGLE = 0.8
"""Where fewer bursts than this share of the readings arrive, the radio hands over several at a time."""
BURSTS_TOGETHER = 8
TOO_SOON = 0.5
"""In usual intervals: what comes sooner after a burst was taken before it came, and belongs to it."""

HELD_UP = 2.5
CATCHES_UP = 0.75
"""In usual intervals: a longer step than the first held readings up; a shorter than the second makes good."""
MOST_HELD_UP = 2048


@dataclass(frozen=True, slots=True)
class Samples:
    """Readings with the times at which they were taken.

    :param time_s: rising, shape (n,)
    :param weight_g: shape (n,)
    :param interval_s: the usual time between two readings
    """

    time_s: Floats
    weight_g: Floats
    interval_s: float

    @property
    def gap_s(self) -> float:
        """From how long a silence on it counts as a gap."""
        return max(GAP_S, 5.0 * self.interval_s)


@dataclass(frozen=True, slots=True)
class Grid:
    """The curve at even times; each value is the mean over one step, so that nothing between is wasted.

    :param time_s: shape (m,)
    :param weight_g: shape (m,)
    :param step_s: the time between two values
    :param silent: True where no reading was taken nearby, shape (m,)
    """

    time_s: Floats
    weight_g: Floats
    step_s: float
    silent: Flags


def samples_from(time_s: object, weight_g: object) -> Samples:
    """Check what was recorded and undo the radio's bursts.

    :param time_s: arrival times, seconds, not falling, shape (n,)
    :param weight_g: weights in g, shape (n,); readings that are not finite are left out
    :raises ValueError: when the shapes differ, or time runs backwards (with the place)
    """
    return samples_of_checked(*checked(time_s, weight_g))


def samples_of_checked(time_s: Floats, weight_g: Floats) -> Samples:
    """Undo the radio's bursts in what was checked already."""
    last = _burst_ends(time_s)
    interval_s = _usual_interval_s(time_s, last)
    return Samples(_unburst(time_s, last, interval_s), weight_g, interval_s)


def checked(time_s: object, weight_g: object) -> tuple[Floats, Floats]:
    """Check what was recorded, and leave out what is not finite; as :func:`samples_from`."""
    time, weight = np.asarray(time_s, dtype=np.float64), np.asarray(weight_g, dtype=np.float64)
    if time.ndim != 1 or time.shape != weight.shape:
        raise ValueError(f"times of shape {time.shape} do not match weights of shape {weight.shape}")
    good = np.isfinite(time) & np.isfinite(weight)
    time, weight = time[good], weight[good]
    with np.errstate(over="ignore"):
        steps = np.diff(time)
    if steps.size and steps.min() < 0:
        at = int(np.argmin(steps))
        raise ValueError(f"time runs backwards, from {time[at]:g} s to {time[at + 1]:g} s (reading {at + 1})")
    if time.size and not np.isfinite(steps).all():
        raise ValueError("the times span more than can be computed with")
    if time.size > 1 and (time[-1] - time[0]) / time.size > 1e6:
        raise ValueError("the times are more than a million seconds apart: are they in another unit?")
    if time.size and np.abs(weight).max() > HEAVIEST_G:
        raise ValueError("the weights exceed ten tonnes: are they in another unit?")
    return time, weight


def usual_interval_s(arrival_s: Floats) -> float:
    """Find the time between two readings, from bursts as well as from single arrivals.

    The readings of a burst share its arrival, and bursts come late as well; so the time that several bursts
    took, divided by their readings, gives one estimate, and their median is robust against drops and gaps.
    """
    return _usual_interval_s(arrival_s, _burst_ends(arrival_s))


def unburst(arrival_s: Floats, interval_s: float) -> Floats:
    """Spread each burst over the time in which its readings were taken; single arrivals stay as they are."""
    return _unburst(arrival_s, _burst_ends(arrival_s), interval_s)


def grid_of(samples: Samples) -> Grid:
    """Lay an even grid through the samples: the mean of the curve over each step."""
    return Ruler.of(samples).grid(samples.weight_g)


def _usual_interval_s(arrival_s: Floats, last: Places) -> float:
    """The same, of bursts that end at ``last``."""
    if arrival_s.size < 3:
        return float(arrival_s[-1] - arrival_s[0]) if arrival_s.size == 2 else 0.1
    if last.size < 3:
        return max(float(np.diff(arrival_s).mean()), 1e-3)
    over = min(BURSTS_TOGETHER, (last.size - 1) // 4) if _come_together(last, arrival_s) else 1
    over = max(over, 1)
    spans, counts = arrival_s[last[over:]] - arrival_s[last[:-over]], last[over:] - last[:-over]
    return max(median(spans / counts), 1e-3)


def _unburst(arrival_s: Floats, last: Places, interval_s: float) -> Floats:
    """The same, of bursts that end at ``last``, long ones in several."""
    last = _without_backlogs(arrival_s, _whole_bursts(arrival_s, last, interval_s), interval_s)
    if last.size in (0, arrival_s.size):
        return _separate(arrival_s, interval_s)
    firsts = np.concatenate(([0], last[:-1] + 1))
    counts, ends = last - firsts + 1, arrival_s[last]
    spans = np.empty_like(ends)
    spans[0], spans[1:] = counts[0] * interval_s, ends[1:] - ends[:-1]
    spacing = np.minimum(spans / counts, 1.6 * interval_s)
    behind = np.repeat(last, counts) - np.arange(arrival_s.size)
    return _separate(np.repeat(ends, counts) - behind * np.repeat(spacing, counts), interval_s)


@dataclass(frozen=True, slots=True)
class Ruler:
    """An even grid over the times of some samples, for any weights that they may have.

    :param steps_s: from each sample to the next, and from the last to beyond the grid, shape (n,)
    :param left: the sample before each edge of the grid, shape (m + 1,)
    :param ahead_s: how far the edge is ahead of it, shape (m + 1,)
    :param rises_s: for how long, on the way there, a weight has risen to the next one's, shape (m + 1,)
    """

    steps_s: Floats
    left: Places
    ahead_s: Floats
    rises_s: Floats
    centres_s: Floats
    step_s: float
    silent: Flags

    @classmethod
    def of(cls, samples: Samples) -> Ruler:
        """Measure out the samples' time in steps of their usual interval, within what makes sense."""
        time = samples.time_s
        step_s = float(min(max(samples.interval_s, FINEST_GRID_S), max(SLOWEST_GRID_S, samples.interval_s)))
        count = max(math.ceil((time[-1] - time[0]) / step_s), 1)
        edges = time[0] + step_s * np.arange(count + 1)
        reach = np.concatenate((time, edges[-1:] + step_s))
        left = np.minimum(np.maximum(reach.searchsorted(edges, side="right") - 1, 0), reach.size - 2)
        centres, silent = edges[:-1] + 0.5 * step_s, np.zeros(count, dtype=np.bool_)
        for since_s, until_s in silences_s(time, samples.gap_s):
            first, last = centres.searchsorted((since_s, until_s), side="right")
            silent[first : last if until_s < time[-1] else count] = True
        steps_s, ahead_s = reach[1:] - reach[:-1], edges - reach[left]
        rises_s = 0.5 * ahead_s**2 / np.maximum(steps_s[left], 1e-12)
        return cls(steps_s, left, ahead_s, rises_s, centres, step_s, silent)

    def grid(self, weight_g: Floats) -> Grid:
        """Integrate the straight lines between the weights exactly over each step.

        :param weight_g: shape (n,)
        """
        weight = np.concatenate((weight_g, weight_g[-1:]))
        area = np.zeros(weight.size)
        (0.5 * (weight[:-1] + weight[1:]) * self.steps_s).cumsum(out=area[1:])
        before = weight[self.left]
        until = area[self.left] + self.ahead_s * before + self.rises_s * (weight[self.left + 1] - before)
        return Grid(self.centres_s, (until[1:] - until[:-1]) / self.step_s, self.step_s, self.silent)


def _burst_ends(arrival_s: Floats) -> Places:
    """Index of the last reading of each burst; a single arrival is a burst of one."""
    steps = arrival_s[1:] - arrival_s[:-1]
    if not steps.size:
        return np.arange(arrival_s.size)
    mean = float(np.minimum(steps, _below_which(steps, 0.98)).sum()) / steps.size
    return np.concatenate(((steps > 0.25 * mean).nonzero()[0], [arrival_s.size - 1]))


def _come_together(last: Places, arrival_s: Floats) -> bool:
    """Whether the radio hands over several readings at a time, in bursts that end at ``last``."""
    return last.size < SINGLE * arrival_s.size


def _whole_bursts(arrival_s: Floats, last: Places, interval_s: float) -> Places:
    """Take as one burst what follows on another sooner than any reading can.

    A long burst is handed over with pauses of some milliseconds in it.
    """
    if not _come_together(last, arrival_s):
        return last
    until_next_s = arrival_s[last[:-1] + 1] - arrival_s[last[:-1]]
    whole = np.append(until_next_s >= TOO_SOON * interval_s, True)
    return np.asarray(last[whole])


def _without_backlogs(arrival_s: Floats, last: Places, interval_s: float) -> Places:
    """Take what was held up and then came faster than it was taken as one burst.

    A host that was busy, or a link that stuttered, hands over its backlog reading by reading. It is one where
    the readings are just as many as the whole of the time should have brought: then none was lost.
    """
    if _come_together(last, arrival_s):
        return last
    steps = arrival_s[1:] - arrival_s[:-1]
    keep = np.ones(arrival_s.size, dtype=np.bool_)
    for stall in (steps > HELD_UP * interval_s).nonzero()[0].tolist():
        slow = np.flatnonzero(steps[stall + 1 : stall + 1 + MOST_HELD_UP] >= CATCHES_UP * interval_s)
        if not slow.size or slow[0] == 0:
            continue
        caught_up = stall + 1 + int(slow[0])
        span_s = float(arrival_s[caught_up] - arrival_s[stall])
        if abs(span_s / (caught_up - stall) - interval_s) < 0.3 * interval_s:
            keep[stall + 1 : caught_up] = False
    return last[keep[last]]


def _separate(time_s: Floats, interval_s: float) -> Floats:
    """Keep times from falling; readings of the very same time are a tiny part of an interval apart."""
    rising = np.maximum.accumulate(time_s)
    return np.asarray(rising + (1e-9 * interval_s) * np.arange(rising.size))


def _below_which(values: Floats, share: float) -> float:
    """The value below which a share of them lies, between two of them by the straight line."""
    place = share * (values.size - 1)
    low = int(place)
    high = min(low + 1, values.size - 1)
    parted = np.partition(values, (low, high))
    return float(parted[low] + (place - low) * (parted[high] - parted[low]))


def silences_s(time_s: Floats, longest_s: float) -> list[tuple[float, float]]:
    """The last reading before each silence, and the first after it, in order.

    :param time_s: in order, shape (n,)
    :param longest_s: what is no longer than that is none
    """
    last = (time_s[1:] - time_s[:-1] > longest_s).nonzero()[0]
    return list(zip(time_s[last].tolist(), time_s[last + 1].tolist(), strict=True))

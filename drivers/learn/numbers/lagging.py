"""Which of two numbers follows the load later: by when they went over, or by how far one is behind."""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.packets.arrays import Floats, Marks, without_single
from drivers.learn.packets.kinds import Kind, usual_gap_s

_LAG_S, _LAG_ELSEWHERE_S, _ONCE_S = 0.02, 0.15, 0.2

_SAME, _FEWEST_MOVES = 0.8, 2
"""Share of packets on the way in which a number is what another one was: damage leaves frames out; and how
many of those there are from each load to the next.
"""

_WHOLE_LATER, _SELDOM, _MISSING = 1.1, 0.6, 2.5
"""Arrivals by which a number seems to be later that is cut elsewhere, or arrives seldom; and
from which on some are missing."""

_FILTERED = 0.98
"""Path of a filtered number beside that of what it is made of, at most: it goes less far where a load swings,
or is gone again at once. What is only sent later goes as far."""

_FEWEST_AHEAD, _ALWAYS_AHEAD = 8, 0.95
"""Packets in which a number is ahead of another one, and their share of those in which the two differ."""

_CLEARLY, _OF_FLOATS = 1.6, 1e-6
"""By how much two numbers differ clearly: in steps of both, and as a share of the span of the loads, by which
the last digits of floats may differ."""

_SIGMAS = 3.0
"""Standard deviations of one packet, by which two numbers differ by more than their noise."""

_FEWEST_GOING, _FOLLOWS = 12, 0.9
"""Packets in which a filtered number goes to where the other one is, far away, and their share: where one
jumps, it is half to two thirds by chance.
"""

_OF_MEDIAN = 1.4826 / np.sqrt(2.0)
"""Standard deviation of a normal distribution, of the median size of the differences of two of it."""

_STRAIGHT, _FEWEST_TIMED = 1.3, 20
"""Path beside the way between the loads, of a number that goes straight from each to the next; packets."""


def is_behind(one: Fit, other: Fit) -> bool:
    """Say whether a number follows the load later than another one of the same packets."""
    if behind_s(one, other) > 0.0:
        return True
    # An upper byte of a copy that lags shows only where the number goes through a multiple of 256.
    apart = one.switch_s - other.switch_s
    apart = apart[np.isfinite(apart)]
    is_once = apart.size > 1 and apart.max() > _ONCE_S and apart.min() > -_LAG_S
    return one.kind is other.kind and bool(is_once)


def behind_s(one: Fit, other: Fit) -> float:
    """Say by how much one switches later than another, beyond chance; 0 or less where it does not."""
    if not _same_packets(one.kind, other.kind):
        return 0.0
    apart = one.switch_s - other.switch_s
    apart = apart[np.isfinite(apart)]
    if apart.size and _are_at_once(one.kind, other.kind) and max(one.path, other.path) > _STRAIGHT:
        # Between two loads, it went elsewhere; what is later at each load is later all the same.
        apart = np.full(2, max(lag_s(one, other), float(apart.min())))
    if apart.size < 2:
        return 0.0
    if np.median(apart) > 0.0 and _is_of_frame_before(one, other):
        return 0.0
    limit = _LAG_S if _are_at_once(one.kind, other.kind) else _elsewhere_s(one, other)
    steps = np.abs(np.diff(other.levels / other.slope))
    coarse = max(one.step, other.step, one.noise_units, other.noise_units)
    limit += min(3.0 * coarse / max(float(np.median(steps)), 1e-6), 1.0)
    behind = float(np.median(apart)) - limit
    if one.kind.stream == other.kind.stream or other.is_bare:
        return behind  # what is shown comes later than the counts of a converter
    if behind > 0.0 and apart.min() > -limit:
        return behind
    # What is late at one load and early at another went elsewhere between them: all of its way tells.
    if one.path >= _FILTERED * other.path or _lag_elsewhere_s(other, one) >= 0.0:
        return min(behind, 0.0)
    return _lag_elsewhere_s(one, other) - _LAG_ELSEWHERE_S


def _are_at_once(one: Kind, other: Kind) -> bool:
    """Say whether numbers stand in the same packets, or in the same lines."""
    return one is other or (one.make is not None and np.array_equal(one.time_s, other.time_s))


def _is_of_frame_before(one: Fit, other: Fit) -> bool:
    """Say whether a number is what another one was a frame ago: frames are cut between the two of them.

    A copy that lags is what the other was, but for what it has caught up with.
    """
    if not one.kind.is_cut or one.kind is not other.kind or one.number.offset > other.number.offset:
        return False
    rows = rows_in_place(one)[1:] & rows_in_place(other)[:-1]
    mine = one.loads_of(one.number.values(one.kind.frames))[1:][rows]
    before = other.loads_of(other.number.values(one.kind.frames))[:-1][rows]
    near = 0.5 * (one.step + other.step) + _OF_FLOATS * one.span
    moves = np.abs(mine - np.roll(mine, 1)) > 2.0 * near
    is_seen = moves.sum() >= _FEWEST_MOVES * len(one.switch_s)
    return bool(is_seen and (np.abs(mine - before) <= near)[moves].mean() > _SAME)


def is_pulled(one: Fit, other: Fit) -> bool:
    """Say whether a number goes to where another one of the same packets is, wherever the two differ.

    So does what a filter makes of the other, however far that goes up and down, and however coarse it is.
    What shows the load by itself goes nowhere for what lags, and bytes of anything else draw nothing.
    """
    if not _are_at_once(one.kind, other.kind) or one.number.covers & other.number.covers:
        return False
    # Bare counts that have not come to rest have a wrong factor; a filter's are those of what it is made of.
    meant = other if one.scale is other.scale is None else one
    mine = meant.loads_of(one.number.values(one.kind.frames))
    theirs = other.loads_of(other.number.values(other.kind.frames))
    clearly = clearly_apart(one, other) + _SIGMAS * (_jitter(one) + _jitter(other))
    with np.errstate(invalid="ignore"):
        far = rows_in_place(one) & rows_in_place(other) & (np.abs(theirs - mine) > clearly)
        goes = np.diff(mine, prepend=mine[:1])  # from the packet before: to the next one, noise comes back
        drawn = (goes * (theirs - mine) > 0.0)[far & (goes != 0.0)]
    return bool(drawn.sum() >= _FEWEST_AHEAD and drawn.mean() > _ALWAYS_AHEAD)


def clearly_apart(one: Fit, other: Fit) -> float:
    """Say by how much two numbers of one weight differ clearly, g or °C."""
    return _CLEARLY * (one.step + other.step) + _OF_FLOATS * one.span


def is_always_ahead(mine: Floats, theirs: Floats, far: Marks) -> bool:
    """Say whether a number has gone further than another one, the way that it goes, wherever they differ.

    :param far: packets in which they do, shape (n,)
    """
    goes = np.convolve(mine, (1.0, 0.0, -1.0), "same")
    with np.errstate(invalid="ignore"):
        ahead = (np.sign(goes) * (mine - theirs) > 0.0)[far]
    return bool(ahead.sum() >= _FEWEST_AHEAD and ahead.mean() > _ALWAYS_AHEAD)


def lag_s(one: Fit, other: Fit) -> float:
    """Give by how much a number lags behind another one of the same packets, wherever the load goes.

    What lags by t is short of the other by t times its own speed, a delay and a filter of first order alike:
    the t that explains most, by least absolute deviations, of which a damaged packet is one of many.
    """
    mine, theirs = (
        np.where(rows_in_place(each), each.loads_of(each.number.values(each.kind.frames)), np.nan)
        for each in (one, other)
    )
    known = np.isfinite(mine) & np.isfinite(theirs)
    if known.sum() < _FEWEST_TIMED:
        return 0.0
    when, mine, theirs = one.kind.time_s[known], *(_undamaged(each[known]) for each in (mine, theirs))
    speed = np.gradient(mine) / max(float(np.median(np.diff(when))), 1e-6)
    speed[np.abs(np.gradient(mine)) < one.step + _SIGMAS * _jitter(one)] = 0.0
    moves = speed != 0.0
    if not moves.any():
        return 0.0
    return _usual((theirs - mine)[moves] / speed[moves], np.abs(speed[moves]))


def _lag_elsewhere_s(one: Fit, other: Fit) -> float:
    """Give by how much a number lags behind another one of other packets, wherever the load goes, s.

    Between two packets, the other one goes straight, which is a little off where it bends: what lags does so
    also seen from the other.

    :returns: less than 0 where it leads; 0 where too few packets come on the way
    """
    (when, mine), (others, theirs) = (_in_time(each) for each in (one, other))
    if min(when.size, others.size) < _FEWEST_TIMED:
        return 0.0
    goes, away = np.gradient(mine), np.interp(when, others, theirs) - mine
    behind = np.clip(np.searchsorted(others, when), 1, others.size - 1)
    are_near = others[behind] - others[behind - 1] < _MISSING * usual_gap_s(others)
    besides = one.step + other.step + _SIGMAS * (_jitter(one) + _jitter(other))
    moves = are_near & (np.abs(goes) > besides)
    if moves.sum() < _FEWEST_MOVES * len(one.switch_s):
        return 0.0
    return _usual(away[moves] / np.gradient(mine, when)[moves], np.abs(goes[moves]))


def goes_after(one: Fit, other: Fit) -> bool:
    """Say whether a number nearly always goes to where another one is, as what is filtered from that does.

    What jumps is ahead and behind by chance.
    """
    (when, mine), (others, theirs) = (_in_time(each) for each in (one, other))
    if min(when.size, others.size) < _FEWEST_TIMED:
        return False
    goes, away = np.diff(mine), (np.interp(when, others, theirs) - mine)[:-1]
    # What has not come to rest is on another line than the loads.
    near = clearly_apart(one, other) + one.worst + other.worst + _SIGMAS * (one.noise_units + _jitter(other))
    tells = (np.abs(away) > near) & (goes != 0.0)
    follows = np.sign(goes) == np.sign(away)
    return bool(tells.sum() >= _FEWEST_GOING and follows[tells].mean() > _FOLLOWS)


def _jitter(one: Fit) -> float:
    """Give the standard deviation of one packet at rest, of what changes from each to the next, g or °C.

    What has not come to rest yet is no noise.
    """
    values = one.loads_of(one.number.values(one.kind.frames))
    gone = np.concatenate([np.diff(values[rows]) for rows in one.kind.settled])
    gone = np.abs(gone[np.isfinite(gone)])
    return float(np.median(gone)) * _OF_MEDIAN if gone.size else one.noise_units


def _in_time(one: Fit) -> tuple[Floats, Floats]:
    """Give when a number says what, where it is in place; s, and g or °C."""
    values = one.loads_of(one.number.values(one.kind.frames))
    known = rows_in_place(one) & np.isfinite(values)
    known[1:] &= np.diff(one.kind.time_s) > 0.0
    return one.kind.time_s[known], _undamaged(values[known])


def _undamaged(values: Floats) -> Floats:
    """Give what a number says, single packets astray left out: those go further than all others together."""
    if values.size < _FEWEST_TIMED:
        return values
    return np.concatenate((values[:1], without_single(values), values[-1:]))


def _usual(times: Floats, weights: Floats) -> float:
    """Give the median of some times by their weights."""
    order = np.argsort(times)
    reached = np.cumsum(weights[order])
    return float(times[order][np.searchsorted(reached, 0.5 * reached[-1])])


def _elsewhere_s(one: Fit, other: Fit) -> float:
    """Give how far apart numbers of different packets seem to go that go together.

    What arrives seldom has changed within half the time since the arrival before; cut elsewhere, a number is
    whole an arrival later. Where packets that tell of the way are missing, it has changed any time between.
    """
    # What goes to nought and back between two loads makes the same error as often as it goes that far.
    apart = max(usual_gap_s(each.kind.time_s) * max(each.path, 1.0) for each in (one, other))
    missing = max(map(_missing_s, (one, other)))
    return max(_LAG_ELSEWHERE_S, (_WHOLE_LATER if one.kind.is_cut else _SELDOM) * apart, missing)


def _missing_s(one: Fit) -> float:
    """Give how long nothing has arrived where a number went over to the next load; 0 where that is usual."""
    time_s = np.unique(one.kind.time_s)
    after = np.searchsorted(time_s, one.switch_s[np.isfinite(one.switch_s)])
    after = after[(after > 1) & (after < time_s.size)]
    # It seems to go over with the first that comes again, or just behind.
    gaps = np.maximum(time_s[after] - time_s[after - 1], time_s[after - 1] - time_s[after - 2])
    gap = float(np.median(gaps)) if after.size else 0.0
    return gap if gap > _MISSING * usual_gap_s(time_s) else 0.0


def _same_packets(one: Kind, other: Kind) -> bool:
    """Say whether the times of two kinds can be compared: frames cut out at different lengths cannot."""
    if one.whole is other.whole:
        return one.selectors == other.selectors or _overlap(one, other) > 0.6
    if one.is_cut or other.is_cut:
        alike = abs(len(one.frames) - len(other.frames)) < 0.03 * len(one.frames)
        return one.length == other.length and alike
    return True


def _overlap(one: Kind, other: Kind) -> float:
    """Give how many packets two parts of a kind share, of those of the larger one."""
    return float(np.isin(one.time_s, other.time_s).sum()) / max(len(one.time_s), len(other.time_s))

"""Steps told apart from water: vessels put on or taken off.

A vessel moves the display faster than any kettle could, and the display follows with the scale's own lag. It
is taken out of the curve: what was shown just before goes on just after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Event, EventKind, Floats
from logger.curve.edges.shapes import Response, left_of_step
from logger.curve.readings.median import median
from logger.curve.readings.runs import Flags, runs_of
from logger.curve.readings.timebase import Grid
from logger.curve.taken_out.fast_water import (
    FASTEST_POUR_G_S,
    MAY_FLOW,
    STILL_FLOWS,
    came_in_bursts,
    flow_before_g_s,
    flow_near_g_s,
    is_filled,
    runs_into,
    runs_until,
)

SLOWEST_FALL_G_S, LEAST_FALL_G, LONGEST_FALL_S, FALL_APART_S = 4.0, 5.0, 3.0, 1.5
"""A slow filter lets a tare of some grams, or a light thing that is taken off, fall no faster than that."""

SMALLEST_VESSEL_G = 5.0
"""What leaves less than that on the pan was a knock."""

LONGEST_TAIL_S = 6.0
"""No scale still follows a vessel after so long."""

COMES_BACK_S, STRAYS_NOISES = 3.0, 1.5
"""For so long a slow display still comes back, to within so many noises of where it was: less than a step."""
RESTS_S = 2.5
"""What stays away for so long was taken off and put on again; a knock is over sooner."""


@dataclass(frozen=True, slots=True)
class Move:
    """A stretch in which the display moves faster than water could.

    :param water_g: the most water that may have arrived meanwhile, at the flow just before or just after
    :param runs: it is a fall, and water ran steadily into what is lifted: its last reading is what it bore
    :param fades: it is a fall to zero that began at its start and fades as this filter shows a step
    """

    start_s: float
    end_s: float
    change_g: float
    reach_g: float
    water_g: float = 0.0
    runs: bool = False
    fades: Response | None = None

    @property
    def returns(self) -> bool:
        """Whether the display came back to where it was, or where water would have brought it, so that
        nothing stayed on or left.
        """
        least_g = max(0.12 * abs(self.reach_g), SMALLEST_VESSEL_G)
        return -least_g < self.change_g < least_g + self.water_g


def find_moves(grid: Grid, noise_g: float) -> tuple[Move, ...]:
    """Find the stretches in which the weight moves faster than water could, in order of time.

    :param noise_g: standard deviation of a reading
    """
    weight, step_s = grid.weight_g, grid.step_s
    if weight.size < 5:
        return ()
    slope = _slope_g_s(weight, step_s)
    calm_g_s = max(4.0 * noise_g / step_s**0.5, 2.0)
    groups = runs_of(np.abs(slope) > FASTEST_POUR_G_S, max(round(0.8 / step_s), 1))
    groups = [group for group in groups if not is_filled(grid, slope, *group)]
    groups = sorted([*groups, *_falls(grid, slope, groups, noise_g)])
    groups = [part for group in groups for part in _ways(slope, *group, step_s)]
    spans = [
        _widened(slope, first, last, calm_g_s, step_s, flow_before_g_s(grid, first)) for first, last in groups
    ]
    ends = [0, *(last for _, last in spans)]
    spans = [runs_until(grid, *span, before) for span, before in zip(spans, ends, strict=False)]
    spans = [_past_silence(grid, first, last) for first, last in spans]
    apart = [span for span in _apart(spans, slope) if not came_in_bursts(grid, *span)]
    befores, nexts = [0, *(last for _, last in apart)], [*(first for first, _ in apart[1:]), weight.size]
    return tuple(
        _come_back(grid, move_between(grid, *span, before, after), span, (before, after), noise_g)
        for span, before, after in zip(apart, befores, nexts, strict=False)
    )


def event_of(move: Move) -> Event:
    """Name a move: a knock where nothing stayed, a vessel otherwise."""
    if move.returns:
        kind: EventKind = "knock"
    else:
        kind = "vessel-on" if move.change_g > 0 else "vessel-off"
    return Event(kind, move.start_s, move.end_s, 0.0 if move.returns else move.change_g)


def without_moves(time_s: Floats, weight_g: Floats, moves: tuple[Move, ...]) -> tuple[Floats, Flags]:
    """Take the moves out of the curve.

    :returns: the weights with what was shown before a move going on after it, and the samples that were
        replaced because they lie within a move
    """
    weight, replaced = weight_g.copy(), np.zeros(time_s.size, dtype=np.bool_)
    for move in moves:
        first, last = (
            int(time_s.searchsorted(move.start_s, side="right")),
            int(time_s.searchsorted(move.end_s)),
        )
        within = slice(first, last)
        replaced[within] = True
        level = median(weight[max(first - (1 if move.runs else 5), 0) : first]) if first else 0.0
        if move.fades:
            since_s = time_s[last:] - move.start_s
            left = left_of_step(since_s, move.fades.stage_s, move.fades.order)
            weight[last:] -= move.change_g * (1.0 - left)
        if move.returns or move.fades:
            ends = [level, float(weight[last]) if last < weight.size else level]
            weight[within] = np.interp(time_s[within], [move.start_s, move.end_s], ends)
        else:
            weight[within] = level
            weight[last:] -= move.change_g
    return weight, replaced


def _slope_g_s(weight_g: Floats, step_s: float) -> Floats:
    """The slope between both neighbours of each; at the ends, to the one that there is."""
    slope = np.empty_like(weight_g)
    slope[1:-1] = (weight_g[2:] - weight_g[:-2]) / (2.0 * step_s)
    slope[0], slope[-1] = (weight_g[1] - weight_g[0]) / step_s, (weight_g[-1] - weight_g[-2]) / step_s
    return slope


def _ways(slope: Floats, first: int, last: int, step_s: float) -> list[tuple[int, int]]:
    """Cut a group where it goes one way and, after a rest, the other: off the pan and on again."""
    parts, begin = [], first
    signs = np.sign(slope[first : last + 1])
    for turn in ((signs[1:] != signs[:-1]).nonzero()[0] + first).tolist():
        before = begin + int(np.argmax(np.abs(slope[begin : turn + 1])))
        after = turn + 1 + int(np.argmax(np.abs(slope[turn + 1 : last + 1])))
        if (after - before) * step_s >= RESTS_S:
            parts.append((begin, turn))
            begin = turn + 1
    return [*parts, (begin, last)]


def _widened(
    slope: Floats, first: int, last: int, calm_g_s: float, step_s: float, flow_g_s: float
) -> tuple[int, int]:
    """Widen a group back to where the move began and on to where its tail has decayed.

    Water does not leave the scale: what rose and falls back, against the flow that runs, is no vessel yet.

    :param flow_g_s: the flow of water that runs as the move begins
    """
    within = slice(first, last + 1)
    rose = bool(slope[within].max() - flow_g_s > flow_g_s - slope[within].min())
    back = max(round(1.0 / step_s), 2)
    # What goes the other way before it is none of it: water, or another move.
    for before in slope[max(first - back, 0) : first][::-1].tolist():
        if (before - flow_g_s if rose else -before) <= calm_g_s:
            break
        first -= 1
    longest, look = round(LONGEST_TAIL_S / step_s), max(round(0.4 / step_s), 1)
    calm_g_s = max(calm_g_s, STILL_FLOWS * flow_g_s)
    last += _decays_in(
        slope[last : last + longest + 2 * look].tolist(), longest, look, flow_g_s, calm_g_s, rose=rose
    )
    return max(first - 1, 0), min(last + max(round(0.3 / step_s), 1), slope.size - 1)


def _decays_in(
    slope: list[float], longest: int, look: int, flow_g_s: float, calm_g_s: float, *, rose: bool
) -> int:
    """Say after how many steps the tail of a move has decayed.

    :param slope: from the end of the move on
    :param longest: after so many steps it has in any case
    :param look: so many steps ahead it must have become less
    """
    last = len(slope) - 1
    longest = min(longest, last)
    for at in range(longest):
        if not _still_moves(slope[at : at + look], flow_g_s, calm_g_s, rose=rose):
            return at
        now, ahead = slope[at] - flow_g_s, slope[min(at + look, last)] - flow_g_s
        further = slope[min(at + 2 * look, last)] - flow_g_s
        comes_back = rose and ahead < 0.0
        goes_on = min(abs(ahead), abs(further)) > 0.95 * abs(now) and abs(now) < FASTEST_POUR_G_S
        if goes_on and not comes_back:
            return at
    return longest


def _still_moves(slope: list[float], flow_g_s: float, calm_g_s: float, *, rose: bool) -> bool:
    """Whether a move goes on, or falls back again: neither rests nor flows as water did before it.

    :param slope: of the next moment
    """
    lowest = min(slope)
    falls = rose and lowest - flow_g_s < -calm_g_s and max(max(slope), -lowest) > calm_g_s
    return falls or min(abs(slope[0] - flow_g_s), abs(slope[0])) > calm_g_s


def _past_silence(grid: Grid, first: int, last: int) -> tuple[int, int]:
    """A step that runs into a gap in the data is over when the gap is."""
    settled = max(round(0.5 / grid.step_s), 1)
    while last < grid.silent.size - 1 and grid.silent[min(last + 1, grid.silent.size - 1)]:
        silence = int(np.argmin(grid.silent[last + 1 :])) or grid.silent.size - last - 1
        last = min(last + silence + settled, grid.silent.size - 1)
    return first, last


def _apart(spans: list[tuple[int, int]], slope: Floats) -> list[tuple[int, int]]:
    """Where two moves run into each other, the first ends and the second begins half-way; or where the second
    begins to go the other way.
    """
    apart: list[tuple[int, int]] = []
    for first, last in spans:
        if apart and first <= apart[-1][1]:
            turns = _peak(slope, *apart[-1]) * _peak(slope, first, last) < 0.0
            middle = max(first if turns else (first + apart[-1][1]) // 2, apart[-1][0] + 1)
            apart[-1], first = (apart[-1][0], middle), middle
        if last > first:
            apart.append((first, last))
    return apart


def _peak(slope: Floats, first: int, last: int) -> float:
    """The slope where it is steepest."""
    within = slope[first : last + 1]
    return float(within[np.argmax(np.abs(within))])


def move_between(grid: Grid, first: int, last: int, last_before: int, next_first: int) -> Move:
    """Measure a move between two grid indices; what the one before still shows and what the next one brings
    is none of it.
    """
    near, weight = max(round(0.4 / grid.step_s), 1), grid.weight_g
    runs = bool(weight[last] < weight[first]) and runs_into(weight, first, last_before, near)
    before = weight[first] if runs else median(weight[max(first - near + 1, 0) : first + 1])
    after = median(weight[last : max(min(last + near, next_first), last + 1)])
    away = weight[first : last + 1] - before
    reach = float(away[np.argmax(np.abs(away))])
    start_s, end_s = float(grid.time_s[first]), float(grid.time_s[last])
    # Just after a move its own tail still holds the flow down.
    beside = [(first - 2 * near, first), (last, last + 2 * near), (last + 2 * near, last + 4 * near)]
    if last_before and first - last_before < 2 * near:
        beside = beside[1:]
    flow = max(flow_near_g_s(grid, *each) for each in beside)
    return Move(start_s, end_s, float(after - before), reach, MAY_FLOW * flow * (end_s - start_s), runs)


def _come_back(
    grid: Grid, move: Move, span: tuple[int, int], between: tuple[int, int], noise_g: float
) -> Move:
    """Let what was lifted and comes back be there when the display is where it was, not when that slows down.

    :param span: its first and last grid index, with ``between`` the last before it and the first after it
    """
    unsure_g = STRAYS_NOISES * noise_g
    (first, last), (before, after) = span, between
    if not move.returns or move.reach_g > 0.0 or move.change_g > -unsure_g:
        return move
    way = grid.weight_g[last : min(last + round(COMES_BACK_S / grid.step_s), after)]
    back = (way >= grid.weight_g[last] - move.change_g - unsure_g).nonzero()[0]
    if not back.size:
        return move
    # What the scale still owes comes more and more slowly; a pour does not, nor a swing.
    way = way[: int(back[0]) + 1]
    slows = 2.0 * way[back[0] // 2] > way[0] + way[-1] and (way[1:] - way[:-1]).min(initial=0.0) > -unsure_g
    return move_between(grid, first, last + int(back[0]), before, after) if slows else move


def _falls(grid: Grid, slope: Floats, groups: list[tuple[int, int]], noise_g: float) -> list[tuple[int, int]]:
    """Find what falls within a moment, stays down and did not rise just before: no water leaves so fast."""
    weight, step_s = grid.weight_g, grid.step_s
    near, least_g = max(round(FALL_APART_S / step_s), 1), max(LEAST_FALL_G, 8.0 * noise_g)
    found = []
    for first, last in runs_of(slope < -SLOWEST_FALL_G_S, 1):
        begin, end = max(first - 1, 0), min(last + 1, weight.size - 1)
        if (end - begin) * step_s > LONGEST_FALL_S or any(
            begin <= other_last + near and end >= other_first - near for other_first, other_last in groups
        ):
            continue
        fell_g = weight[begin] - weight[end]
        before, after = weight[max(begin - near, 0) : begin + 1], weight[end : end + near + 1]
        if fell_g > least_g and np.ptp(before) < 0.3 * fell_g and after.max() < weight[end] + 0.3 * fell_g:
            found.append((first, last))
    return found

"""Pauses that nobody saw, because somebody stirred, knocked, or the radio was silent just then.

What hides a moment does not hide the water that is missing after it. The stream before it and the one after
it are followed as straight lines; if the second runs behind the first, the weight stood still in between for
as long as it takes to bring the two together.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from logger.curve.pours.dips import DIP_SHARE
from logger.curve.pours.water_curve import Curve
from logger.curve.readings.timebase import silences_s

SHORTEST_HIDDEN_S = 1.0
"""Of a silence, or of what was handled, that may hide a pause."""

SHORTEST_STOP_S, SHORTEST_UNSEEN_STOP_S = 1.5, 0.8
"""A stream that lost less than so much of its time may have weakened for a moment. So much of it must have
been lost while nothing was seen: beside that a stream is seen to weaken, or to stop."""

BESIDE_S, FOLLOWED_S = 1.0, 3.0
"""Beside what is hidden the display still follows a stream that stopped, or begins; so much farther off tells
its flow."""

RUNS_SHARE, UNSEEN_SHARE = 0.75, 0.6
"""A stream that runs right up to what hides it, and right after it, did all that it did unseen: that it
stopped for a part of that time is likelier than that it weakened for just the whole of it."""

FEWEST, LEAST_FOLLOWED_S = 5, 0.6
"""Readings that a stream is followed by, and the time between the first and the last of them."""

LEAST_FLOW_G_S = 1.0
"""A stream thinner than that drips, and stops between its drips."""

SURELY = 2.0
"""Standard deviations by which the time that is missing must be longer than the shortest stop."""


def hidden_stretches_s(curve: Curve) -> list[tuple[float, float]]:
    """The last reading before each stretch that was not measured, and the first after it, in order."""
    return silences_s(curve.measured_s, SHORTEST_HIDDEN_S)


def cut_where_hidden(
    curve: Curve, first: int, last: int, hidden_s: Sequence[tuple[float, float]]
) -> list[tuple[int, int]]:
    """Cut a stretch of flow where it stopped while nothing was seen.

    :param first: the stretch's first grid index
    :param last: its last
    :param hidden_s: all that was not measured, as ``hidden_stretches_s`` has it
    """
    parts, begin = [], first
    starts_s, ends_s = float(curve.grid_s[first]), float(curve.grid_s[last])
    within_it = slice(
        bisect_left(hidden_s, starts_s, key=lambda each: each[0]),
        bisect_right(hidden_s, ends_s, key=lambda each: each[1]),
    )
    for since_s, until_s in hidden_s[within_it]:
        since, until = curve.grid_s.searchsorted((since_s, until_s)).tolist()
        within = begin < since < until < last
        if within and _stopped(curve, since_s, until_s, float(curve.grid_s[begin]), ends_s):
            parts.append((begin, since))
            begin = until
    return [*parts, (begin, last)]


def _stopped(curve: Curve, since_s: float, until_s: float, from_s: float, to_s: float) -> bool:
    """Whether the stream stood still while it was not seen.

    :param from_s: since when it runs, with ``to_s`` until when
    """
    left_s, reached_s = since_s - BESIDE_S, until_s + BESIDE_S
    before = _stream(curve, max(left_s - FOLLOWED_S, from_s), left_s, left_s)
    after = _stream(curve, reached_s, min(reached_s + FOLLOWED_S, to_s), reached_s)
    if before is None or after is None:
        return False
    slower = min(before, after, key=lambda stream: stream.flow_g_s)
    if slower.flow_g_s < LEAST_FLOW_G_S:
        return False
    # When it stopped is not known: at the slower flow what arrived took longest, and the stop was shortest.
    flowed_s = (after.level_g - before.level_g) / slower.flow_g_s
    sd_s = math.hypot(before.level_sd_g, after.level_sd_g, flowed_s * slower.flow_sd_g_s) / slower.flow_g_s
    is_long = reached_s - left_s - flowed_s >= SHORTEST_STOP_S + SURELY * sd_s
    return is_long and _stopped_unseen(curve, since_s, until_s, slower.flow_g_s)


def _stopped_unseen(curve: Curve, since_s: float, until_s: float, flow_g_s: float) -> bool:
    """Whether what is missing is so just where nothing was seen, and not beside that.

    :param flow_g_s: of the stream farther off, on its slower side
    """
    left = _stream(curve, since_s - BESIDE_S, since_s, since_s)
    reached = _stream(curve, until_s, until_s + BESIDE_S, until_s)
    if left is None or reached is None:
        return False
    # What reached the pan meanwhile, by what the display, freed of its lag, shows beside it.
    hidden_g = reached.level_g - left.level_g + curve.response.delay_s * (reached.flow_g_s - left.flow_g_s)
    hidden_g_s = hidden_g / (until_s - since_s)
    missing_s = (until_s - since_s) * (1.0 - hidden_g_s / flow_g_s)
    beside_g_s = min(left.flow_g_s, reached.flow_g_s)
    share = UNSEEN_SHARE if beside_g_s > RUNS_SHARE * flow_g_s else DIP_SHARE
    return missing_s > SHORTEST_UNSEEN_STOP_S and min(hidden_g_s, beside_g_s) < share * flow_g_s


@dataclass(frozen=True, slots=True)
class _Stream:
    """A straight line through the readings beside what is hidden, at its end next to that.

    :param level_sd_g: standard deviation of the level there, with ``flow_sd_g_s`` that of its slope
    """

    level_g: float
    flow_g_s: float
    level_sd_g: float
    flow_sd_g_s: float


def _stream(curve: Curve, from_s: float, to_s: float, at_s: float) -> _Stream | None:
    """Follow a stream between two times; None where it is too short to be followed."""
    time, weight = curve.measured(from_s, to_s)
    if time.size < FEWEST or time[-1] - time[0] < LEAST_FOLLOWED_S:
        return None
    middle_s, middle_g = float(time.sum()) / time.size, float(weight.sum()) / time.size
    line = time - middle_s
    power = float(line @ line)
    flow_g_s, flow_sd_g_s = float(line @ weight) / power, curve.noise_g / math.sqrt(power)
    away_s = at_s - middle_s
    level_sd_g = math.hypot(curve.noise_g / math.sqrt(time.size), away_s * flow_sd_g_s)
    return _Stream(middle_g + away_s * flow_g_s, flow_g_s, level_sd_g, flow_sd_g_s)

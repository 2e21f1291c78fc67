"""The stretches in which a thermometer's reading moves faster than any water does by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.readings.runs import runs_of
from logger.curve.temperature.probe_lag import Jump, jump_of
from logger.curve.temperature.readings import TemperatureReadings

FAST_C_S = 0.4
"""A kettle loses a degree or two a minute, a slurry two to four (common practice), a thin bed of a bloom ten:
all of them far less than these 24 °C a minute."""

LEAST_MOVE_C = 3.0

_SPAN_S = 2.0


@dataclass(frozen=True, slots=True)
class Move:
    """A fast stretch.

    :param first: index of the last reading before it
    :param last: index of the first reading that it led to
    :param from_c: where it began
    :param to_c: where it led to
    :param jump: for a rise, how it looks as that of a probe that is put into water; None for a fall
    """

    first: int
    last: int
    from_c: float
    to_c: float
    jump: Jump | None = None

    @property
    def falls(self) -> bool:
        """Whether the reading fell."""
        return self.to_c < self.from_c

    @property
    def change_c(self) -> float:
        """By how much it moved, whichever way."""
        return abs(self.to_c - self.from_c)


def fast_moves(readings: TemperatureReadings, heats_c_s: float) -> tuple[Move, ...]:
    """Every fast stretch that goes far enough to be no noise, in order of time.

    :param heats_c_s: what the vessel heats its water by at the fastest
    """
    spans = sorted((*_spans(readings, -1.0), *_spans(readings, 1.0)))
    moves = []
    for number, (first, last) in enumerate(spans):
        from_c, to_c = float(readings.value_c[first]), float(readings.value_c[last])
        jump = None
        if to_c > from_c:
            jump = jump_of(readings, first, _until(readings, spans, number), heats_c_s)
        moves.append(Move(first, last, from_c, to_c, jump))
    return tuple(moves)


def _spans(readings: TemperatureReadings, sign: float) -> list[tuple[int, int]]:
    """First and last index of the fast stretches of one direction."""
    time_s, value_c = readings.time_s, sign * readings.value_c
    span_s = max(_SPAN_S, 0.99 * readings.interval_s)
    ahead = np.minimum(np.searchsorted(time_s, time_s + span_s), time_s.size - 1)
    took_s = np.maximum(time_s[ahead] - time_s, 1e-9)
    fast = ((value_c[ahead] - value_c) / took_s > FAST_C_S) & (took_s >= 0.4 * span_s)
    found = []
    for first, last in runs_of(fast, bridge=2):
        # The rate looks ahead, so a run begins before the move and may lead beyond it.
        piece = value_c[first : ahead[last] + 1]
        top = int(np.argmax(piece))
        foot = int(np.argmin(piece[: top + 1]))
        gained_c = float(piece[top] - piece[foot])
        if gained_c < max(LEAST_MOVE_C, 6.0 * readings.noise_c, 3.0 * readings.step_c):
            continue
        low_c, slack_c = max(3.0 * readings.noise_c, 0.15), max(2.0 * readings.noise_c, 0.02 * gained_c)
        start = foot + int(np.flatnonzero(piece[foot : top + 1] <= piece[foot] + low_c)[-1])
        end = start + int(np.argmax(piece[start : top + 1] >= piece[top] - slack_c))
        found.append((first + start, first + end))
    return found


def _until(readings: TemperatureReadings, spans: list[tuple[int, int]], number: int) -> int:
    """Up to which index a rise may be followed: the next fast fall, or the end."""
    for first, last in spans[number + 1 :]:
        if readings.value_c[last] < readings.value_c[first]:
            return first
    return readings.time_s.size - 1

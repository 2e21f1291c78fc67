"""When a probe was not in the water: not yet, lifted and put back, left out, or never in it.

A probe that leaves hot water falls towards the room (or to the steam above the water) with its own time
constant, some seconds to half a minute: a degree a second and more, where a kettle loses one or two a minute
and a slurry two to four (common practice). Put back, it jumps up with its time constant in water, and is
again where the water has cooled to meanwhile. Three others look like it at first, and are told apart:

- *cold water poured into a kettle* falls as fast, but stays at the mixture, well above the room, and comes
  back as slowly as a kettle heats, in a straight line;
- *fresh hot water on a slurry* jumps up, but nothing fell fast before;
- *a kettle that heats up* from the room rises in minutes, not in seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.runs import Flags
from logger.curve.temperature.probe_lag import KETTLE_HEATS_C_S, Jump
from logger.curve.temperature.probe_moves import FAST_C_S, LEAST_MOVE_C, Move, fast_moves
from logger.curve.temperature.readings import TemperatureReadings

OutKind = Literal["before", "lifted", "left", "never"]

LEAST_WATER_C = 45.0
"""Colder than that is no brewing water: a probe that shows it hangs in the room."""

WARMEST_ROOM_C = 35.0
"""What is warmer and stays there is water, however cool."""

LEAST_FALL_C, LEAST_FIRST_RISE_C = 4.0, 12.0

_LOSES_C_MIN = 12.0
"""More than any kettle or slurry cools by itself."""

_BACK_WITHIN_C = 1.5
_CALM_S, _CALM_FROM_C, _FEWEST_CALM = 15.0, 60.0, 4
_LONGEST_OUT_S = 900.0
_LATE_S, _STILL_FALLS_C_S = 6.0, 0.1


@dataclass(frozen=True, slots=True)
class ProbeOut:
    """A stretch in which a probe did not measure the water.

    :param kind: ``before`` it was put in; ``lifted`` and put back; ``left`` out to the end; ``never`` in
    :param start_s: the last reading in the water, or the first of all
    :param end_s: when it was put in, or the last reading of all
    :param settled_s: from when on its readings are the water's again; ``end_s`` where it never was put in
    :param lowest_c: the lowest that it showed
    """

    kind: OutKind
    start_s: float
    end_s: float
    settled_s: float
    lowest_c: float


@dataclass(frozen=True, slots=True)
class ProbeHistory:
    """What a probe went through.

    :param out: where it was not in the water, in order
    :param changes_s: moments at which the water itself changed: refilled, or poured on
    :param jumps: how it rose when it was put into the water, in order
    """

    out: tuple[ProbeOut, ...]
    changes_s: tuple[float, ...]
    jumps: tuple[Jump, ...]


def probe_history(
    readings: TemperatureReadings,
    *,
    least_water_c: float = LEAST_WATER_C,
    heats_c_s: float = KETTLE_HEATS_C_S,
) -> ProbeHistory:
    """Find where a probe was not in the water.

    :param least_water_c: colder is no brewing water; lower it for a brew with cold water
    :param heats_c_s: what the vessel heats its water by at the fastest
    """
    if readings.time_s.size < 3:
        return ProbeHistory((), (), ())
    if float(np.percentile(readings.value_c, 98)) < least_water_c:
        return ProbeHistory((_never(readings),), (), ())
    return _Search(readings, fast_moves(readings, heats_c_s), least_water_c).history()


def in_water(time_s: Floats, out: Sequence[ProbeOut]) -> Flags:
    """Which moments lie in no stretch in which the probe was out; shape (n,)."""
    inside: Flags = np.ones(time_s.size, dtype=np.bool_)
    for stretch in out:
        was_in = stretch.kind in ("lifted", "left")
        comes_back = stretch.kind in ("before", "lifted")
        begun = time_s > stretch.start_s if was_in else time_s >= stretch.start_s
        ended = time_s >= stretch.settled_s if comes_back else time_s > stretch.end_s
        inside = inside & (~begun | ended)
    return inside


def _never(readings: TemperatureReadings) -> ProbeOut:
    first_s, last_s = float(readings.time_s[0]), float(readings.time_s[-1])
    return ProbeOut("never", first_s, last_s, last_s, float(readings.value_c.min()))


@dataclass(frozen=True, slots=True)
class _Search:
    """Judges the fast moves of one thermometer, in order of time."""

    readings: TemperatureReadings
    moves: tuple[Move, ...]
    least_water_c: float

    def history(self) -> ProbeHistory:
        """All that the probe went through."""
        out, jumps, changes_s = [], [], []
        number = 0
        while number < len(self.moves):
            found = self._put_in(number) or self._lifted(number)
            if found is None:
                changes_s.append(self._time_s(self.moves[number].first))
                number += 1
                continue
            stretch, last = found
            out.append(stretch)
            jump = self.moves[last].jump
            jumps += [jump] if jump is not None and stretch.kind != "left" else []
            number = last + 1
        return ProbeHistory(tuple(out), tuple(changes_s), tuple(jumps))

    def _put_in(self, number: int) -> tuple[ProbeOut, int] | None:
        """Whether a rise is that of a probe that had hung in the room until then."""
        move = self.moves[number]
        if move.jump is None or not move.jump.is_quick or move.change_c < LEAST_FIRST_RISE_C:
            return None
        before_c = self.readings.value_c[: move.first + 1]
        if float(before_c.max()) >= self.least_water_c:
            return None
        return self._stretch("before", 0, move.jump, float(before_c.min())), number

    def _lifted(self, number: int) -> tuple[ProbeOut, int] | None:
        """Whether a fall is that of a probe that is lifted; and the last move that belongs to it."""
        fall = self.moves[number]
        if not fall.falls or fall.from_c < self.least_water_c:
            return None
        for back in range(number + 1, len(self.moves)):
            rise = self.moves[back]
            if self._time_s(rise.first) - self._time_s(fall.first) > _LONGEST_OUT_S:
                break
            if rise.jump is not None and self._is_back(fall, rise, rise.jump):
                lowest_c = float(self.readings.value_c[fall.first : rise.last + 1].min())
                return self._stretch("lifted", fall.first, rise.jump, lowest_c), back
        if not self._stays_out(fall):
            return None
        start_s, end_s = self._time_s(fall.first), self._time_s(-1)
        lowest_c = float(self.readings.value_c[fall.first :].min())
        return ProbeOut("left", start_s, end_s, end_s, lowest_c), len(self.moves) - 1

    def _is_back(self, fall: Move, rise: Move, jump: Jump) -> bool:
        """Whether a rise is the way back into the water of a probe that was lifted with a fall."""
        if not jump.is_quick:
            return False
        if float(self.readings.value_c[fall.first : rise.first + 1].min()) < self.least_water_c:
            return True
        if fall.change_c < LEAST_FALL_C or self._is_calm(fall.last, rise.first):
            return False
        took_min = (jump.settled_s - self._time_s(fall.first)) / 60.0
        return jump.water_c >= fall.from_c - _LOSES_C_MIN * took_min - _BACK_WITHIN_C

    def _is_calm(self, first: int, last: int) -> bool:
        """Whether the reading rested at one hot level for longer than anybody holds a probe into steam."""
        if last - first < _FEWEST_CALM:
            return False
        time_s, value_c = self.readings.time_s[first : last + 1], self.readings.value_c[first : last + 1]
        since_s = time_s - time_s[0]
        late = since_s >= 0.3 * since_s[-1]
        if (
            since_s[-1] < _CALM_S
            or np.count_nonzero(late) < _FEWEST_CALM
            or value_c[late].min() < _CALM_FROM_C
        ):
            return False
        slope, level = np.polyfit(since_s[late], value_c[late], 1)
        rest_c = value_c[late] - level - slope * since_s[late]
        return bool(abs(slope) < 0.25 * FAST_C_S and np.std(rest_c) < 3.0 * self.readings.noise_c)

    def _stays_out(self, fall: Move) -> bool:
        """Whether what fell and did not jump back hangs in the room, or is still on its way there."""
        readings = self.readings
        time_s, value_c = readings.time_s, readings.value_c
        last_c = float(np.median(value_c[time_s >= time_s[-1] - max(2.0, 1.5 * readings.interval_s)]))
        if last_c > fall.to_c + LEAST_MOVE_C:
            return False
        if last_c < min(WARMEST_ROOM_C, self.least_water_c):
            return True
        late = time_s >= max(float(time_s[-1]) - _LATE_S, float(time_s[fall.first]))
        took_s = float(time_s[late][-1] - time_s[late][0])
        fallen_c = float(value_c[late][0] - value_c[late][-1])
        return fall.change_c >= LEAST_FALL_C and fallen_c > max(
            _STILL_FALLS_C_S * took_s, 4.0 * readings.noise_c
        )

    def _stretch(self, kind: OutKind, first: int, jump: Jump, lowest_c: float) -> ProbeOut:
        start_s = self._time_s(first)
        end_s = max(jump.onset_s, start_s)
        return ProbeOut(kind, start_s, end_s, max(jump.settled_s, end_s), lowest_c)

    def _time_s(self, index: int) -> float:
        return float(self.readings.time_s[index])

"""What a number says at rest, and the line through it."""

from __future__ import annotations

import numpy as np
import pytest

from drivers.learn.numbers.number import Number
from drivers.learn.numbers.resting import line_from, line_through, rests_of, shown_error
from drivers.learn.packets.kinds import Kind


def _kind(per_load: list[list[int]]) -> Kind:
    """Packets of two bytes, big end first, that came while one load after the other was at rest."""
    counts = [count for some in per_load for count in some]
    ends = np.cumsum([len(some) for some in per_load])
    rows = tuple(np.arange(end - len(some), end) for end, some in zip(ends.tolist(), per_load, strict=True))
    frames = np.array([[count >> 8, count & 0xFF] for count in counts], dtype=np.uint8)
    return Kind(0, np.arange(len(counts)) * 0.1, frames, settled=rows)


NUMBER = Number("integer", 0, 2)


def _rests(typed: list[float], per_load: list[list[int]]):
    kind = _kind(per_load)
    return rests_of(kind, NUMBER, NUMBER.values(kind.frames), np.array(typed))


def test_a_damaged_packet_is_none_of_a_load_at_rest():
    rests = _rests([0.0, 100.0], [[0] * 10, [1000] * 9 + [33000]])
    assert rests.levels.tolist() == [0.0, 1000.0]


def test_an_empty_pan_that_shows_nothing_below_nought_is_at_nought():
    rests = _rests([0.0, 100.0], [[0, 0, 0, 0, 0, 1, 2, 1, 0, 1], [1000] * 10])
    assert rests.levels[0] == 0.0


def test_a_load_of_which_hardly_a_packet_came_tells_no_level():
    assert _rests([0.0, 100.0], [[0] * 10, [1000, 1000]]) is None


def test_the_line_is_the_least_squares_one():
    """numpy.polyfit is the reference."""
    typed, counts = [0.0, 150.0, 400.0, 900.0], [2, 1503, 3996, 9001]
    line = line_through(_rests(typed, [[count] * 10 for count in counts]))
    assert (line.slope, line.offset) == pytest.approx(tuple(np.polyfit(typed, counts, 1)))


def test_a_number_that_goes_its_own_way_has_no_line():
    assert line_through(_rests([0.0, 100.0, 200.0], [[5] * 10, [900] * 10, [20] * 10])) is None


def test_a_known_nought_makes_the_factor_better_known():
    rests = _rests([50.0, 150.0, 400.0], [[501] * 10, [1500] * 10, [3999] * 10])
    free, held = line_through(rests), line_from(0.0, rests)
    free_error, held_error = (shown_error(line, rests, "weight", with_scatter=True) for line in (free, held))
    assert held_error < free_error
    assert held.slope == pytest.approx(10.0, abs=3 * held_error)

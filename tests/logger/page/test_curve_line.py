from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from logger.page.curve_line import CurveLine

CLOCKS = st.floats(min_value=0.0, max_value=4000.0, allow_nan=False)


def test_points_closer_than_the_spacing_are_left_out() -> None:
    line = CurveLine(spacing_s=0.1)
    for clock_s in (0.0, 0.05, 0.1, 0.15, 0.25):
        line.push((clock_s, 1.0))
    assert [row[0] for row in line.rows] == [0.0, 0.1, 0.25]
    assert line.generation == 0


def test_an_hour_at_a_high_rate_keeps_its_course_in_a_bounded_number_of_points() -> None:
    line = CurveLine()
    for number in range(3600 * 20):
        line.push((number / 20, number / 10))
    assert 500 < len(line.rows) < 1200
    assert line.rows[0] == (0.0, 0.0)
    assert line.rows[-1][0] is not None and line.rows[-1][0] > 3590.0
    assert all(row[1] == 2 * (row[0] or 0.0) for row in line.rows)


def test_a_clock_that_goes_back_takes_the_later_points_away_and_says_so() -> None:
    line = CurveLine()
    for second in range(10):
        line.push((float(second), 2.0 * second))
    line.push((4.5, 9.0))
    assert [row[0] for row in line.rows] == [0.0, 1.0, 2.0, 3.0, 4.0, 4.5]
    assert line.generation == 1


@given(st.lists(CLOCKS, max_size=80), st.integers(4, 20))
def test_whatever_the_clock_does_the_points_rise_and_stay_few(clocks_s: list[float], most: int) -> None:
    line = CurveLine(most=most)
    generation, before = 0, line.rows[:]
    for clock_s in clocks_s:
        line.push((clock_s, 0.0))
        times = [row[0] or 0.0 for row in line.rows]
        assert times == sorted(times)
        assert len(line.rows) < most
        if line.generation == generation:
            assert line.rows[: len(before)] == before  # only the end grows, unless it is said
        generation, before = line.generation, line.rows[:]

from __future__ import annotations

import numpy as np
import pytest

from logger.show.terminal.terminal_chart import chart

TIME_S = np.linspace(0.0, 60.0, 601)
RISING_G = np.clip(TIME_S * 5.0, 0.0, 200.0)


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("width", [40, 80, 100])
def test_a_chart_is_never_wider_than_asked(width: int, plain: bool) -> None:
    lines = chart(TIME_S, RISING_G, (RISING_G - 9, RISING_G + 9), width, 12, plain)
    assert len(lines) == 14
    assert max(len(line.text) for line in lines) <= width
    assert all(line.text.isascii() for line in lines) == plain


def test_the_curve_rises_to_its_end() -> None:
    lines = chart(TIME_S, RISING_G, None, 60, 10)
    assert lines[0].cells[-1][1] == "curve"
    assert lines[9].cells[0][1] == "curve"
    assert lines[0].cells[0][1] == ""


def test_braille_dots_are_those_of_unicode() -> None:
    # Unicode 15, chart U+2800: dots 1 to 8 are bits 0 to 7; a level line in the lowest row is dots 7 and 8
    lines = chart(TIME_S, np.zeros_like(TIME_S), None, 30, 4)
    assert {character for character, kind in lines[3].cells if kind == "curve"} == {"\u28c0"}


def test_no_curve_is_drawn_where_there_is_no_data() -> None:
    broken = RISING_G.copy()
    broken[(TIME_S > 20) & (TIME_S < 40)] = np.nan
    lines = chart(TIME_S, broken, None, 66, 10)
    columns = len(lines[0].cells)
    middle = columns // 2
    assert all(line.cells[middle][1] == "" for line in lines[:10])


def test_the_corridor_shows_through_beside_the_curve() -> None:
    lines = chart(TIME_S, RISING_G, (RISING_G - 40, RISING_G + 40), 60, 12)
    kinds = {kind for line in lines[:12] for _, kind in line.cells}
    assert kinds == {"", "band", "curve"}


def test_a_curve_of_nothing_but_gaps_is_an_empty_chart() -> None:
    lines = chart(TIME_S, np.full_like(TIME_S, np.nan), None, 60, 6)
    assert not any(kind == "curve" for line in lines for _, kind in line.cells)

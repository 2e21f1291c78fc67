from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.compare import Deviation
from logger.show.words.wording import (
    clock,
    difference_words,
    give_or_take,
    inside_words,
    short_clock,
    shortened,
    value_words,
    wanted_words,
    when,
)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0:00"),
        (45, "0:45"),
        (125, "2:05"),
        (59.6, "1:00"),
        (-3, "-0:03"),
        (-0.2, "0:00"),
        (3725, "1:02:05"),
    ],
)
def test_times_are_minutes_and_seconds(seconds: float, words: str) -> None:
    assert clock(seconds) == words


@given(st.integers(0, 359_999))
def test_whole_seconds_agree_with_the_standard_library(seconds: int) -> None:
    hours, minutes, rest = (int(part) for part in ("0:" * 2 + clock(seconds)).split(":")[-3:])
    assert timedelta(hours=hours, minutes=minutes, seconds=rest) == timedelta(seconds=seconds)


@given(st.floats(0, 7000))
def test_tenths_are_never_sixty_seconds(seconds: float) -> None:
    rest = float(clock(seconds, 1).rsplit(":", 1)[1])
    assert rest < 60
    assert abs(rest - seconds % 60) < 0.0501 or abs(abs(rest - seconds % 60) - 60) < 0.0501


def test_tenths_only_where_there_are_some() -> None:
    assert short_clock(45.0) == "0:45"
    assert short_clock(46.3) == "0:46.3"


@pytest.mark.parametrize(
    ("quantity", "actual", "words"),
    [
        ("to_g", 64.2, "4.2 g heavy"),
        ("to_g", 57.0, "3.0 g light"),
        ("start_s", 61.3, "1.3 s late"),
        ("start_s", 58.0, "2.0 s early"),
        ("flow_g_s", 60.8, "0.8 g/s fast"),
        ("water_c", 58.8, "1.2 °C cool"),
        ("total_g", 60.01, "as wanted"),
        ("water_c", math.nan, ""),
    ],
)
def test_differences_are_said_as_brewers_say_them(quantity: str, actual: float, words: str) -> None:
    deviation = Deviation(quantity, 60.0, actual, 5.0, None)  # type: ignore[arg-type]  # parametrized
    assert difference_words(deviation).replace("\u00a0", " ") == words


def test_a_difference_just_outside_does_not_look_like_the_tolerance() -> None:
    just_outside = Deviation("to_g", 60.0, 63.04, 3.0, False)
    assert difference_words(just_outside).replace("\u00a0", " ") == "3.04 g heavy"


def test_what_was_wanted_names_its_tolerance() -> None:
    assert wanted_words(Deviation("to_g", 60.0, 61.0, 3.0, True)).replace("\u00a0", " ") == "60.0 g ±3"
    assert wanted_words(Deviation("end_s", 28.4, 28.4, 0.0, True)) == "0:28.4"


def test_what_was_not_measured_is_said_so_and_never_a_number() -> None:
    assert value_words("water_c", math.nan) == "not measured"
    assert value_words("start_s", math.nan) == "not measured"
    assert inside_words(None) == "cannot be told"


def test_a_start_is_shown_on_the_readers_clock() -> None:
    assert when(datetime(2026, 11, 25, 6, 47, tzinfo=UTC), UTC) == "25 November 2026, 06:47"
    assert when(None) == "start not known"


def test_long_names_are_cut_visibly() -> None:
    assert shortened("a  very\nlong name of a stage", 11) == "a very lon…"


@pytest.mark.parametrize(
    ("between", "words"),
    [
        ((46.1, 46.5), "0:46.3 ±0.2"),
        ((45.9, 46.35), "0:46.3 ±0.4"),
        ((46.29, 46.31), "0:46.3 ±0.1"),
        ((30.1, 60.0), "0:46.3 ±16"),
        ((44.0, 46.5), "0:46.3 −2.3 +0.2"),
        ((30.1, 46.3), "0:46.3 −16 +0.1"),
        (None, "0:46.3"),
    ],
)
def test_give_or_take_is_the_farther_of_both_ways_and_never_nought(
    between: tuple[float, float] | None, words: str
) -> None:
    assert give_or_take(short_clock(46.3), between, 46.3) == words

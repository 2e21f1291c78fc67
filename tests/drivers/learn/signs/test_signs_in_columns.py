"""Lines whose sign stands in a column of its own, which a pattern reads beside the number."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from drivers.learn import Arrival, Capture, Learned, Stream, learn
from tests.drivers.learn.signs.test_lifted_off import lifted
from tests.drivers.learn.small import learned, reads


def _letter(g: float, n: int) -> bytes:
    return b"%d,%.1f,%s,%d\r\n" % (n, abs(g), b"N" if g < 0 else b"P", 6770 - n // 90)


def _sign_before(g: float, n: int) -> bytes:
    return b"%s\tST\t%.1f\t24.6\r\n" % (b"-" if g < 0 else b"+", abs(g))


def _number(g: float, n: int) -> bytes:
    return b"= %d %.1f %d\n" % (g < 0, abs(g), n)


def _beside_a_state(g: float, n: int) -> bytes:
    state = b"=" if n % 120 > 15 else b"~"
    return b"K%.2f\t%s\t%s\t19\r\n" % (abs(g), b"+" if g >= 0 else b"-", state)


def _minus_or_blank(g: float, n: int) -> bytes:
    return b"057|%7.1f|%s|%d\r\n" % (abs(g), b"-" if g < 0 else b" ", 41_800 + n)


LINES = [_minus_or_blank, _letter, _sign_before, _number, _beside_a_state]


def learned_lifted(line: Callable[[float, int], bytes]) -> Learned:
    weights, loads = lifted()
    arrivals = tuple(Arrival(time_s, 0, line(round(g, 1), at)) for at, (time_s, g) in enumerate(weights))
    return learn(Capture("serial", (Stream(),), arrivals, tuple(loads)))


@pytest.mark.parametrize("line", LINES)
def test_a_vessel_that_is_lifted_off_shows_which_column_is_the_sign(line: Callable[[float, int], bytes]):
    found = learned_lifted(line)
    assert found.is_sure, found.reasons
    assert not found.never_negative
    assert reads(found, line(-43.2, 1), line(432.1, 2), line(0.0, 3), link="serial") == [-43.2, 432.1, 0.0]


@pytest.mark.parametrize("line", LINES)
def test_such_lines_are_read_where_nothing_was_below_nought(line: Callable[[float, int], bytes]):
    found = learned(lambda g, n: line(max(round(g, 1), 0.0), n), noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons


def test_two_columns_that_may_be_it_are_left_open_or_either_is_right():
    def line(g: float, n: int) -> bytes:
        return b"%s %.1f %s\r\n" % (b"-" if g < 0 else b"+", abs(g), b"N" if g < 0 else b"P")

    found = learned_lifted(line)
    if found.is_sure:
        assert reads(found, line(-43.2, 1), line(43.2, 2), link="serial") == [-43.2, 43.2]


def test_a_state_of_rest_is_no_sign():
    def line(g: float, n: int) -> bytes:
        return b"%s,%d,%.1f g\r\n" % (b"ST" if n % 160 > 9 else b"US", n, abs(round(g, 1)))

    found = learned(line, noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons


def test_lines_of_a_state_that_comes_seldom_are_read_though_two_of_them_are_damaged():
    """A character more in three per cent of all lines is more than three per cent of a few."""

    def line(g: float, n: int, damaged: bytes = b"") -> bytes:
        return b"W:%s;%+.2f%sg\r" % (b" " if n % 160 > 6 else b"*", g, damaged)

    found = learned(lambda g, n: line(g, n, b"p" if n in (162, 321) else b""), noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(123.4, 3), line(-12.5, 90), link="serial") == [123.4, -12.5]

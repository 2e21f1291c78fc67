"""Lines whose sign stands in a column of its own: a pattern reads the number without it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from drivers.learn import Arrival, Capture, Stream, learn
from tests.drivers.learn.signs.test_lifted_off import lifted
from tests.drivers.learn.small import learned


def _letter(g: float, n: int) -> bytes:
    return b"%d,%.1f,%s,%d\r\n" % (n, abs(g), b"N" if g < 0 else b"P", 6770 - n // 90)


def _sign_before(g: float, n: int) -> bytes:
    return b"%s\tST\t%.1f\t24.6\r\n" % (b"-" if g < 0 else b"+", abs(g))


def _number(g: float, n: int) -> bytes:
    return b"= %d %.1f %d\n" % (g < 0, abs(g), n)


LINES = [_letter, _sign_before, _number]


@pytest.mark.parametrize("line", LINES)
def test_a_weight_that_turns_at_nought_as_a_column_changes_is_not_surely_above_it(
    line: Callable[[float, int], bytes],
):
    weights, loads = lifted()
    arrivals = tuple(Arrival(time_s, 0, line(round(g, 1), at)) for at, (time_s, g) in enumerate(weights))
    found = learn(Capture("serial", (Stream(),), arrivals, tuple(loads)))
    assert not found.is_sure


@pytest.mark.parametrize("line", LINES)
def test_such_lines_are_read_where_nothing_was_below_nought(line: Callable[[float, int], bytes]):
    found = learned(lambda g, n: line(max(round(g, 1), 0.0), n), noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons


def test_a_state_of_rest_is_no_sign():
    def line(g: float, n: int) -> bytes:
        return b"%s,%d,%.1f g\r\n" % (b"ST" if n % 160 > 9 else b"US", n, abs(round(g, 1)))

    found = learned(line, noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons

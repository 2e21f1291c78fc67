"""A vessel that is heavier than all known loads stands on the pan for a while."""

from __future__ import annotations

import pytest

from drivers.learn import learn
from tests.drivers.learn.small import captured, reads, rested

VESSEL_G = 411.7
LOADS = (0.0, 20.0, 200.0)


def test_packets_of_a_vessel_that_is_heavier_than_all_loads_fit_as_well():
    """It is put on, tared, lifted off, and the pan is tared again."""
    shown_g = [0.0]

    def line(g: float, n: int) -> bytes:
        goal_g = VESSEL_G if 8 <= n < 50 else -VESSEL_G if 55 <= n < 95 else g
        if n in (50, 95):
            shown_g[0] = 0.0
        shown_g[0] += 0.15 * (goal_g - shown_g[0])
        return f"W:S,{'-' if shown_g[0] < 0.0 else '+'}{abs(shown_g[0]) / 1000:08.4f}\r".encode()

    found = learn(rested(captured(line, LOADS, 0.0, "serial")))
    assert found.is_sure, found.reasons
    assert reads(found, b"W:S,-000.0123\r", link="serial") == [pytest.approx(-12.3)]


def test_packets_that_jump_far_beyond_all_loads_do_not_fit():
    def line(g: float, n: int) -> bytes:
        return f"W:S,{g + 450.0 * (n % 8 == 3):+09.4f}\r".encode()

    found = learn(rested(captured(line, LOADS, 0.0, "serial")))
    assert not found.is_sure

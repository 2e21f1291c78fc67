"""Bare counts beside what is shown in round steps, each with noise of its own."""

from __future__ import annotations

import random
import struct
from functools import cache

import pytest

from tests.drivers.learn.small import learned, reads, summed


@cache
def shaken(n: int) -> float:
    """Give the noise of a display that has a filter of its own, g."""
    return random.Random(n).gauss(0.0, 0.35)


def test_what_is_shown_is_read_rather_than_counts_that_know_nothing_of_a_tare():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">Biih", 0xA7, 41_629 + round(83.77 * g), n % 256, 5 * round(2 * (g + shaken(n))))
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.03)
    assert found.is_sure, found.reasons
    tared = struct.pack(">Biih", 0xA7, 41_629 + round(83.77 * 312.0), 7, 120)
    assert reads(found, tared + summed(tared)) == [pytest.approx(12.0)]


def test_ounces_beside_bare_counts_leave_open_which_of_the_two_is_shown():
    def packet(g: float, n: int) -> bytes:
        ounces = round((g + shaken(n)) / 28.349523125 * 100)
        data = struct.pack(">Biih", 0xA7, 41_629 + round(83.77 * g), n % 256, ounces)
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.03)
    assert not found.is_sure
    assert "which of the two is shown" in " ".join(found.reasons)

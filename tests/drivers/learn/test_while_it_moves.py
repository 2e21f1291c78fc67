"""What packets say while the load moves, or would say if it moved otherwise: it tells kinds, digits and copies."""

from __future__ import annotations

import math
import struct

import pytest

from tests.drivers.learn.small import learned, reads

PER_LOAD = 160
"""Packets of each load."""


def rung(g: float, n: int) -> float:
    """Let the pan ring about each load before it comes to rest."""
    since = n % PER_LOAD
    return g + 60.0 * math.exp(-0.25 * since) * math.cos(2.4 * since) if n >= PER_LOAD else g


def test_packets_of_a_pan_that_rings_are_of_the_same_kind_as_those_at_rest():
    def packet(g: float, n: int) -> bytes:
        is_still = n % PER_LOAD > 20 or n < PER_LOAD
        return struct.pack(">BBhBI", 0xB7, 0x04, round(10 * rung(g, n)), 0x83 + 0x40 * is_still, 7 * n)

    found = learned(packet, noise_g=0.02)
    assert found.is_sure, found.reasons
    moving, still = (struct.pack(">BBhBI", 0xB7, 0x04, 1234, flags, 99) for flags in (0x83, 0xC3))
    assert reads(found, moving, still) == [pytest.approx(123.4)] * 2

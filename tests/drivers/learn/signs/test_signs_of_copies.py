"""The bytes of a copy, beside a number whose own sign stands elsewhere."""

from __future__ import annotations

import random
import struct
from dataclasses import replace

import pytest

from drivers.learn import Arrival, Capture, Stream, learn
from drivers.learn.signs.signs_of_copies import Copies
from tests.drivers.learn.signs.test_lifted_off import lifted
from tests.drivers.learn.small import UUID, learned, reads, summed


def test_the_bytes_of_a_coarse_copy_are_known_from_a_flag():
    def packet(counts: int, n: int) -> bytes:
        digits = bytes.fromhex(f"{abs(counts):04d}")
        flags = 0x09 | 0x40 * (counts < 0)
        return bytes([0xA5, n % 251, flags]) + struct.pack(">i", int(counts / 12))[1:] + digits

    weights, loads = lifted(off=20)
    arrivals = tuple(Arrival(time_s, 0, packet(round(10 * g), at)) for at, (time_s, g) in enumerate(weights))
    one = learn(Capture("ble", (Stream(UUID),), arrivals, tuple(loads))).choice.best
    assert one is not None
    assert one.number.sign is not None
    minus = one.number.sign.is_negative(one.kind.frames)
    copies = Copies(one, replace(one.number, sign=None), frozenset())
    assert [place for place in range(one.kind.length) if copies.have_end_at(place, minus)] == [3, 4, 5]


def test_a_bit_of_a_float_is_no_sign():
    """Of the highest byte of a float, bits are set while it is a step from nought, and only then."""
    rng = random.Random(3)

    def packet(g: float, n: int) -> bytes:
        steps = max(round(g / 2.5 + rng.gauss(0.0, 0.2)), 0)
        return struct.pack("<BHfB", 0xA5, steps, float(steps), n % 251)

    found = learned(packet, (0.0, 207.5, 1000.0, 100.0), 0.5)
    assert found.choice.best is not None
    assert found.choice.best.number.sign is None


def test_a_sign_stays_one_behind_a_copy_whose_lowest_byte_wraps_with_it():
    """Nought stands for minus: with the byte before it, it seems to be the upper byte of a number."""
    rng = random.Random(4)

    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * (g + rng.gauss(0.0, 0.1)))
        data = b"\xdc" + struct.pack(">iBHB", 10 * tenths, tenths >= 0, abs(tenths), n % 251)
        return data + summed(data)

    found = learned(packet, (0.0, 131.5, 50.0, 500.0), 0.0)
    assert found.is_sure, found.reasons
    below = b"\xdc" + struct.pack(">iBHB", 0, 0, 456, 1)
    assert reads(found, below + summed(below)) == [pytest.approx(-45.6)]


def test_a_byte_that_a_slow_copy_is_torn_with_is_none_of_it():
    """Behind the upper bytes of a copy the sign stands, as filled as those below nought, but sooner over."""
    weights, loads = lifted(off=20)
    slow, arrivals = 0.0, []
    for at, (time_s, g) in enumerate(weights):
        slow += 0.2 * (g - slow)
        counts = round(10 * g)
        body = struct.pack("<BiBHB", 0xA5, round(10 * slow), 0xFF * (counts < 0), abs(counts), at % 251)
        arrivals.append(Arrival(time_s, 0, body))
    found = learn(Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(loads)))
    one = found.choice.best
    assert one is not None
    assert one.number.offset == 6
    assert one.number.sign is not None
    assert one.number.sign.offset == 5


def test_a_bit_of_the_lowest_byte_of_a_coarse_copy_is_no_sign_of_the_weight():
    """It is set a little below nought, and at none of the loads; 22.5 oz have it as well."""

    def packet(g: float, n: int) -> bytes:
        digits = bytes.fromhex(f"{abs(round(g)):04d}")
        data = struct.pack(">h", round(g / 2.8349523125)) + digits + bytes([0xE0, 0x2D if g < -0.5 else 0x2B])
        return data + summed(data)

    found = learned(lambda g, n: packet(g - 40.0 * (3 < n < 14), n), (0.0, 100.0, 300.0, 1000.0), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(638.0, 3), packet(-20.0, 5)) == [638.0, -20.0]

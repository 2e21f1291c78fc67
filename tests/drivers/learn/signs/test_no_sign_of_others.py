"""What is set near nought by chance and belongs to another number: nothing below nought has shown a sign."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.signs.sign_places import goes_on_slowly, is_top_of_signed
from tests.drivers.learn.small import learned, reads

_HAND = {
    1: ((60.8, 64), (51.3, 3), (44.8, 2), (33.8, -105), (74.7, -259), (16.3, -314), (11.4, -318), (88.5, 20)),
    2: (
        (403.1, 233),
        (385.8, -18),
        (287.3, -1719),
        (271.2, -1208),
        (260.8, -800),
        (529.4, 900),
        (831.1, 950),
    ),
}
"""What a hand makes a scale show before a load lies there, g, and the flow that it works out of that, g/s."""


def test_the_upper_bits_of_a_flow_are_no_sign_though_they_come_while_a_load_is_lifted():
    def packet(g: float, n: int) -> bytes:
        way = _HAND.get(n // 160, ())
        g, flow = way[n % 160] if n % 160 < len(way) else (g, 0)
        return struct.pack(">HHh", n, max(round(10 * g), 0), flow)

    found = learned(packet, loads=(0.0, 380.0, 1100.0), noise_g=0.02)
    assert found.is_sure, found.reasons
    for flow in (-300, 300):
        assert reads(found, struct.pack(">HHh", 7, 1234, flow)) == [pytest.approx(123.4)]


def test_a_temperature_that_rises_by_one_is_no_sign():
    def packet(g: float, n: int) -> bytes:
        small = max(round(10 * g), 0) or 1
        return b"\x69\x01" + small.to_bytes(2, "little") + bytes((n % 256, 27 if n in (6, 7, 15, 21) else 28))

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert reads(found, b"\x69\x01" + (6087).to_bytes(2, "little") + b"\x07\x1b") == [pytest.approx(608.7)]


def test_two_numbers_that_follow_on_each_other_are_no_sign_and_a_bit_may_be_one():
    assert goes_on_slowly(np.array([27] * 5 + [28] * 90, dtype=np.uint8))
    assert not goes_on_slowly(np.array([16] * 5 + [17] * 90, dtype=np.uint8))
    assert not goes_on_slowly(np.array([1] * 5 + [2] * 90, dtype=np.uint8))
    assert not goes_on_slowly(np.array([0x2B] * 5 + [0x2D] * 90, dtype=np.uint8))


def test_a_byte_that_goes_on_below_its_upper_bits_is_that_of_a_signed_number():
    flow = np.array([0] * 90 + [0xFF, 0xF4, 0xF4, 0xFE, 0xFF, 0x04, 0x03], dtype=np.uint8)
    assert is_top_of_signed(flow, flow > 0x7F, 2)
    assert is_top_of_signed(flow, flow == 0xFF, 2)  # a little below nought
    state = np.array([0xF2] * 90 + [0xF7, 0xF7, 0xF0, 0xF2, 0xF2, 0xF5], dtype=np.uint8)
    assert not is_top_of_signed(state, state == 0xF7, 2)
    mark = np.array([0] * 90 + [0xFF] * 7, dtype=np.uint8)
    assert not is_top_of_signed(mark, mark > 0x7F, 2)
    flags = np.array([0x01, 0x03] * 45 + [0x81, 0x83] * 4, dtype=np.uint8)
    assert not is_top_of_signed(flags, flags > 0x7F, 2)


def test_a_bit_that_two_packets_on_the_way_set_as_well_shows_no_more_than_a_sign_beside_the_number():
    """Tenths of an ounce are 80 and more in their lower byte as the pan is emptied, and below nought."""
    way = {0: (0, -1, -7, -10, -12, -12, -12, -11, -8, -2, 0), 3: (529, 31, 714, 869)}

    def packet(g: float, n: int) -> bytes:
        at, since = divmod(n, 160)
        shown = way[at][since] if since < len(way.get(at, ())) else round(g)
        tenths = int(shown / 2.8349523125)
        sign = 0xFF if shown < 0 else 0x00
        return b"\x02\x01\xbc" + bytes([sign]) + struct.pack("<Hh", abs(shown), tenths)

    found = learned(packet, (0.0, 320.0, 1000.0, 878.0), noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, b"\x02\x01\xbc\x00" + struct.pack("<Hh", 398, 140)) == [398.0]
    assert reads(found, b"\x02\x01\xbc\xff" + struct.pack("<Hh", 6, -2)) == [-6.0]

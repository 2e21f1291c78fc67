"""Which bytes are flags, a sign among them, and which are numbers, that go below nought themselves."""

from __future__ import annotations

import random
import struct
from functools import cache

import numpy as np
import pytest

from drivers.learn.signs.flags import MORE_FLAGS, goes_by_one, is_bit_of_number, is_busy
from tests.drivers.learn.small import learned, reads, summed, xor


@cache
def live(n: int) -> float:
    """Give what has not been rounded yet of an empty pan, g: noise alone."""
    return random.Random(n).gauss(0.0, 0.25)


def test_a_bit_that_turns_with_each_packet_is_no_flag_that_makes_a_byte_a_number():
    """The lowest bit of a counter turns so as well, and the others with it."""
    state = np.repeat([0x80, 0x01, 0x02, 0x82], 150).astype(np.uint8)
    beat = (np.arange(600) % 2 << 2).astype(np.uint8)
    assert not is_busy(state | beat)
    assert is_busy((np.arange(600) % 16).astype(np.uint8))


def test_a_bit_is_one_of_a_number_where_each_load_makes_something_else_of_those_beside_it():
    of_a_copy = np.repeat([0x00, 0x29, 0xCB], 200).astype(np.uint8)
    assert is_bit_of_number(of_a_copy, 1, is_close=False)
    assert not is_bit_of_number(np.repeat([0x01, 0x81, 0x80], 200).astype(np.uint8), 0x80, is_close=False)


def test_numbers_that_follow_on_each_other_are_no_flags():
    """Of a voltage that flickers, one bit is set at the highest only; of flags, none of all are, or all."""
    assert goes_by_one(np.repeat(np.arange(0x92, 0x99), 30).astype(np.uint8))
    assert not goes_by_one(np.repeat(np.arange(0x40, 0x48), 30).astype(np.uint8))
    assert not goes_by_one(np.repeat([0x00, 0x01, 0x02, 0x03, 0x04], 30).astype(np.uint8))
    assert not goes_by_one(np.repeat([0x92, 0x94, 0x96, 0x97, 0x98], 30).astype(np.uint8))


def test_a_bit_is_one_of_a_number_where_what_is_beside_it_is_many_things_for_a_while():
    flow = np.zeros(600, dtype=np.uint8)
    flow[160:170] = [127, 100, 62, 40, 30, 12, 8, 5, 3, 1]
    flow[480:488] = [0x80, 0x80, 0xBE, 0xEE, 0xF7, 0xFB, 0xFE, 0xFF]
    assert is_bit_of_number(flow, 0x80, is_close=True)


def test_a_byte_of_four_flags_is_busy_unless_a_load_below_nought_tells_them_apart():
    at = np.arange(600)
    flags = ((at > 450) << 1 | (at % 150 < 9) | (at % 150 > 60) << 2 | (at % 7 == 3) << 6).astype(np.uint8)
    assert is_busy(flags)
    assert not is_busy(flags, MORE_FLAGS)


def test_a_sign_beside_a_bit_that_turns_with_each_packet_is_found():
    def packet(g: float, n: int) -> bytes:
        steps = round(10 * (live(n) if abs(g) < 0.5 else g))
        flags = 0x02 * (steps < 0) | 0x04 * (n % 2) | 0x80 * (n % 160 > 12) | 0x01 * (abs(steps) < 2)
        data = bytes([0xA7, flags, 0x5C, n % 256]) + abs(steps).to_bytes(3, "little")
        return data + xor(data)

    found = learned(packet, (0.0, 100.0, 0.0, 500.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 300), packet(-12.3, 301), packet(12.3, 4)) == [-12.3, -12.3, 12.3]


def test_a_load_below_nought_shows_which_of_many_flags_is_the_sign_though_a_copy_lags():
    """The highest byte of a filtered copy is another one below nought as well, a while later."""

    def packet(g: float, n: int) -> bytes:
        before = (0.0, 0.0, 100.0, 500.0)[n // 160 % 4]
        lagging = g + (before - g) * 0.8 ** (n % 160)
        flags = 0x02 * (g < -0.05) | 0x01 * (n % 160 < 10) | 0x04 * (n % 160 > 30) | 0x40 * (n % 7 == 3)
        data = struct.pack(">BBBHBi", 0xA7, flags, 0x13, abs(round(10 * g)), n % 256, round(10 * lagging))
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 500.0, -191.2), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-40.2, 400), packet(60.0, 500)) == [-40.2, 60.0]


@pytest.mark.parametrize("usual", [0x00, 0x2B])
def test_a_sign_byte_that_is_full_below_nought_is_no_top_bit(usual: int):
    def packet(g: float, n: int) -> bytes:
        grams = -0.05 if n in (40, 90) else g
        sign = {0x00: 0xFF, 0x2B: 0x2D}[usual] if grams < -0.01 else usual
        data = bytes([0xA7, n % 256, sign]) + abs(round(100 * grams)).to_bytes(3, "big")
        return data + xor(data)

    found = learned(packet, noise_g=0.0)
    assert reads(found, packet(-12.34, 4), packet(12.34, 4)) == [-12.34, 12.34]


def test_the_top_bit_of_what_flows_is_no_sign_of_the_number_behind_it():
    """It flows out when a load is taken off; the number falls to nought then, and no further."""

    def packet(g: float, n: int) -> bytes:
        flow = (-400.0 if n // 160 == 3 else 400.0) * 0.5 ** (n % 160)
        flow = round(max(-128.0, min(127.0, flow))) if n >= 160 and 2 <= n % 160 < 9 else 0
        data = bytes([0xA7, flow % 256]) + max(round(10 * g), 0).to_bytes(3, "little") + b"\x00\xf2"
        return data + summed(data)

    found = learned(packet, (20.0, 250.0, 900.0, 0.0), 0.0)
    assert found.choice.best is not None
    assert found.choice.best.number.sign is None
    assert reads(found, packet(400.0, 162), packet(400.0, 482)) == [400.0, 400.0]

"""What packets say while the load moves: it tells which are of one kind, whose a digit is, what is a copy."""

from __future__ import annotations

import math
import struct

import pytest

from tests.drivers.learn.small import learned, reads, xor

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


def moving(g: float, n: int) -> float:
    """Let each load come slowly, and a little over what it was typed as: the digits of the way are seen."""
    since = n % PER_LOAD
    return g + (80.0 * 0.93**since if n >= PER_LOAD and since < 60 else 0.0) + 0.014


def test_a_last_digit_that_the_exact_loads_do_not_need_is_the_numbers_own():
    def packet(g: float, n: int) -> bytes:
        return b"\xeb\x97" + f"{moving(g, n):8.2f}".encode() + bytes([0x01, n % 256])

    found = learned(packet, noise_g=0.008)
    assert found.is_sure, found.reasons
    assert reads(found, b"\xeb\x97  123.47\x01\x09") == [pytest.approx(123.47)]


def test_the_first_digit_of_a_check_is_none_of_the_number():
    def packet(g: float, n: int) -> bytes:
        text = f"{moving(g, n):+8.2f}".encode()
        return b"\xeb\x90" + text + xor(text).hex().upper().encode()

    found = learned(packet, noise_g=0.008)
    assert found.is_sure, found.reasons
    text = b" +700.19"
    assert reads(found, b"\xeb\x90" + text + xor(text).hex().upper().encode()) == [pytest.approx(700.19)]


def test_a_copy_that_lags_is_told_where_the_pan_is_emptied_between_two_loads():
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        shown_g = 0.0 if n % PER_LOAD < 25 else g
        slow[0] += 0.08 * (shown_g - slow[0])
        return struct.pack("<Bff", n % 256, slow[0], round(shown_g, 2))

    found = learned(packet, (0.0, 192.8, 143.5, 110.1), 0.004)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<Bff", 7, 40.0, 123.45)) == [pytest.approx(123.45)]


def test_a_number_does_not_begin_in_one_copy_and_end_in_the_next():
    slow_g = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow_g[0] += 0.25 * (rung(g, n) - slow_g[0])
        return struct.pack("<HBhhB", 0x37BF, n % 256, 10 * round(rung(g, n)), 10 * round(slow_g[0]), n // 40)

    found = learned(packet, (173.4, 0.0, 943.0), noise_g=0.02)
    assert found.is_sure, found.reasons
    apart = struct.pack("<HBhhB", 0x37BF, 1, 3270, 2710, 9)
    assert reads(found, apart) == [pytest.approx(327.0)]

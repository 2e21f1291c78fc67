"""Digits whose neighbours are digits as well."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.numbers.number import Number
from tests.drivers.learn.small import learned, reads, xor

OUNCE_G = 28.349523125


def test_text_behind_a_digit_that_stays_is_read_without_it():
    """What stands before is the lower byte of a target, and a 6 by chance."""

    def packet(g: float, n: int) -> bytes:
        counts = max(round(10 * g), 0) * 100
        data = b"\xef\xa5" + bytes([n % 256]) + b"\x05\x36" + f"{counts:07d}".encode() + b"+"
        return data + struct.pack(">I", n // 13) + xor(data + struct.pack(">I", n // 13))

    found = learned(packet, (0.0, 200.0, 500.0, 1000.0), 0.02)
    assert found.description is not None, found.reasons
    assert reads(found, packet(1234.5, 7)) == [1234.5]


def test_the_lowest_digits_are_kept_where_the_last_of_them_is_always_nought():
    def packet(g: float, n: int) -> bytes:
        g += 0.19 * (240.0 < g < 250.0)  # what was typed is rounded
        thousandths_oz = max(round(1000 * g / OUNCE_G), 0)
        data = b"\x71" + bytes([n % 256]) + bytes.fromhex(f"{10 * thousandths_oz:08d}")[::-1]
        return data + xor(data)

    found = learned(packet, (0.0, 247.0, 1383.0, 100.0), 0.02)
    assert found.description is not None, found.reasons
    assert reads(found, packet(123 * OUNCE_G / 1000, 7)) == [pytest.approx(123 * OUNCE_G / 1000)]


def test_digits_whose_lower_half_comes_first_are_kept_where_the_last_is_always_nought():
    def packet(g: float, n: int) -> bytes:
        digits = bytes.fromhex(f"{100 * max(round(g * 10), 0) // 10:08d}")[::-1]
        swapped = bytes((each >> 4) | (each & 15) << 4 for each in digits)
        return b"\x15\x8f" + swapped + struct.pack(">iB", max(round(g), 0), n % 256)

    found = learned(packet, (0.0, 180.1, 1047.2, 500.0))
    assert found.description is not None, found.reasons
    assert reads(found, packet(123.4, 7)) == [123.4]


def test_a_digit_of_rest_behind_digits_of_sixteen_is_none_of_theirs():
    def line(g: float, n: int) -> bytes:
        return b"mass=%06X%d\r\n" % ((round(44.054 * g) + 59) & 0xFFFFFF, n % 160 > 12)

    found = learned(line, (0.0, 200.0, 500.0, 872.2), 0.05, "serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"mass=FFEC430\r\n", link="serial") == [pytest.approx(-116.04, abs=0.05)]


def test_texts_that_follow_one_another_are_each_read_from_its_sign():
    """The first and the last of them come later than the one between."""
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow[0] += 0.12 * (g - slow[0])
        texts = "".join(f"{each:+10.1f}" for each in (slow[0], g, slow[0]))
        data = bytes([n % 256, 0xA5]) + texts.encode()
        return data + xor(data)

    found = learned(packet, (0.0, 20.0, 1000.0, 400.0), 0.15)
    assert found.is_sure, found.reasons
    slow[0] = 50.0
    assert reads(found, packet(123.4, 7)) == [123.4]


@pytest.mark.parametrize("encoding", ["integer", "bcd", "digits", "hex", "ascii", "float"])
def test_no_frames_hold_no_numbers(encoding: str):
    assert Number(encoding, 1, 4).values(np.zeros((0, 8), dtype=np.uint8)).shape == (0,)


def test_decimals_that_are_always_nought_may_be_a_byte_of_a_battery_behind_them():
    def packet(g: float, n: int, charge: int = 0x30) -> bytes:
        data = b"\x14\x1e" + f"{g:+07.1f}".encode() + bytes([charge]) + struct.pack(">H", 3738 - n // 90)
        return data + xor(data)

    found = learned(lambda g, n: packet(moved(g, n), n), (0.0, 200.0, 100.0, 401.8), 0.1)
    assert found.description is not None, found.reasons
    assert reads(found, packet(123.4, 3, 0x36)) == [pytest.approx(123.4)]


def moved(g: float, n: int) -> float:
    """Let a load come slowly, so that its digits are seen on the way."""
    return g + (80.0 * 0.93 ** (n % 160) if n >= 160 and n % 160 < 60 else 0.0)


def test_digits_before_a_point_belong_to_the_number_though_only_damage_has_changed_them():
    def frame(g: float, n: int) -> bytes:
        digits = b"%.3f" % (round(abs(g)) / 1000)
        some = b"p" + digits[1:] if n % 50 == 7 else digits
        return b"\x84\x16" + bytes([n % 256]) + some + b"\xba"

    found = learned(frame, (0.0, 200.0, 300.0, 50.0), noise_g=0.5)
    assert found.is_sure, found.reasons
    assert reads(found, frame(1020.0, 9)) == [1020.0]

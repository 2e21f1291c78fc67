"""Bytes of several flags: rest, nought, sign; and signs that a text has itself, however seldom they show."""

from __future__ import annotations

import random
import struct
from functools import cache

import numpy as np

from drivers.learn.signs.flags import FEW_CODES, goes_far, is_busy
from tests.drivers.learn.small import learned, reads, summed, xor


@cache
def live(n: int) -> float:
    """Give what has not been rounded yet of an empty pan, g: noise alone."""
    return random.Random(n).gauss(0.0, 0.09)


def grams_of(g: float, n: int) -> float:
    return live(n) if abs(g) < 0.5 else g


def test_a_sign_among_flags_of_rest_and_of_nought_is_found():
    def packet(g: float, n: int) -> bytes:
        steps = round(25 * grams_of(g, n) if abs(g) < 0.5 else 10 * g)
        flags = 0x81 | 0x08 * (n % 3 > 0) | 0x40 * (steps < 0) | 0x02 * (steps == 0)
        data = struct.pack(">BBBH", 0xA7, flags, 0x5C, abs(steps))
        return data + summed(data)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 4), packet(12.3, 4)) == [-12.3, 12.3]


def test_a_flag_that_tells_an_empty_pan_is_no_sign_of_a_number_that_stops_at_nought():
    def packet(g: float, n: int) -> bytes:
        grams = grams_of(g, n)
        data = struct.pack(">BBHB", 0xA7, 0x04 * (abs(grams) < 0.1), max(round(10 * grams), 0), n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 0.0, 500.0), 0.0)
    assert reads(found, b"\xa7\x04\x00\x01\x07" + summed(b"\xa7\x04\x00\x01\x07")) == [0.1]


def test_a_minus_that_a_text_has_itself_is_the_only_one_however_seldom_it_shows():
    # Another number's sign stands beside the text, and goes with the text's own.
    def packet(g: float, n: int) -> bytes:
        is_below = abs(g) < 0.5 and n % 160 in (30, 50, 70, 90, 110)
        text = b"-00.10" if is_below else b" %05.2f" % abs(round(10 * g) / 10)
        data = b"\xa7" + text.rjust(7) + bytes([0 if is_below else 1]) + bytes([n % 256])
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.0)
    data = b"\xa7-000.10\x00\x07"
    assert reads(found, data + summed(data)) == [-0.1]


def test_a_byte_of_six_things_is_looked_at_for_a_sign_and_is_no_doubt_by_itself():
    """A slow counter of three bits is six things as well, any bit of which may fall together with nought."""
    six = np.arange(600) // 100
    assert not is_busy(six)
    assert goes_far(six, FEW_CODES)
    assert not goes_far(six % 4, FEW_CODES)  # two flags
    assert not goes_far(six % 2)


def test_a_bit_of_a_temperature_is_no_sign_where_the_number_grows_on_through_its_change():
    """It comes and goes while the pan is empty, and no more once the room has become warmer."""
    rng = random.Random(3)

    def packet(g: float, n: int) -> bytes:
        celsius = 0xEB if n in (161, 162) else 0xEC if n > 160 else rng.choice((0xEB, 0xEC))
        data = b"\xf1\xe5" + bytes([n % 256, 0]) + abs(round(100 * g)).to_bytes(3, "big") + bytes([celsius])
        return data + xor(data)

    found = learned(lambda g, n: packet(max(g, 0.0), n), (0.0, 400.2, 90.2, 843.8), 0.015)
    assert found.choice.best is not None
    sign = found.choice.best.number.sign
    assert sign is None or sign.offset != 7


def test_a_sign_among_flags_is_seen_where_packets_in_order_dip_below_nought_once():
    below_g = {60: -80, 61: -140, 62: -140, 63: -140, 64: -80, 65: -20}

    def packet(g: float, n: int) -> bytes:
        steps = round(below_g.get(n, g) / 20)
        flags = 0x79 | 0x80 * (steps < 0) | 0x04 * (n % 160 > 20)
        data = struct.pack("<BBBBB", 0x93, 0x04, 0x7E, abs(2 * steps), flags)
        return data + xor(data)

    found = learned(packet, (0.0, 320.0, 1000.0, 420.0), noise_g=2.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-180.0, 0), packet(180.0, 0)) == [-180.0, 180.0]

"""Checks that leave out some of the number, and cyclic ones over a single byte that changes."""

from __future__ import annotations

import struct

import pytest

from drivers.decoders.checksums import crc8
from tests.drivers.learn.small import learned, reads, xor


def float_behind(g: float, n: int) -> bytes:
    data = struct.pack("<BfBB", 0xA7, g, n % 256, 0x5C)
    return data + xor(data[3:6])


def test_a_check_over_some_of_the_number_is_found_and_kept():
    def packet(g: float, n: int) -> bytes:
        whole = float_behind(g, n)
        return whole[:4] + bytes([whole[4] ^ 0x10]) + whole[5:] if n % 61 == 5 else whole

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert found.description is not None
    check = found.description.frames[0].checksum
    assert check is not None
    assert (check.start, check.at) == (3, 7)
    damaged = bytearray(float_behind(250.0, 9))
    damaged[4] ^= 0x01
    assert reads(found, float_behind(250.0, 9), bytes(damaged)) == [pytest.approx(250.0), None]


def test_a_cyclic_check_over_the_lowest_byte_alone_shows_a_sign_that_hardly_ever_is_seen():
    def packet(g: float, n: int) -> bytes:
        tenths = -1 if n in (40, 90) else abs(round(10 * g))
        digits = bytes.fromhex(f"{abs(tenths):06d}")[::-1]
        data = bytes((0x55, 0x02, 0x00, 0x00, tenths < 0, 0x27)) + digits
        return data + bytes([crc8(data[1:7], poly=0x31, init=0xFF)])

    found = learned(packet, (0.0, 156.2, 342.8, 738.4), 0.04)
    assert found.is_sure, found.reasons
    data = bytes((0x55, 0x02, 0x00, 0x00, 0x01, 0x27, 0x23, 0x01, 0x00))
    assert reads(found, data + bytes([crc8(data[1:7], poly=0x31, init=0xFF)])) == [pytest.approx(-12.3)]

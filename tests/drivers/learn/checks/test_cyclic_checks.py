"""Cyclic checks that do not begin with nought or all ones, and what they cover."""

from __future__ import annotations

import struct

import pytest

from drivers.decoders.checksums import crc8
from tests.drivers.learn.made_checks import crc
from tests.drivers.learn.small import learned, reads


@pytest.mark.parametrize("init", [0xFD, 0x5A], ids=["listed", "of its own"])
def test_a_byte_that_stays_before_what_a_check_covers_may_change_later(init: int):
    """The upper byte of a battery's voltage: with another start value, a check over it as well would hold."""

    def packet(g: float, n: int, millivolts: int = 3980) -> bytes:
        data = b"\xa7" + struct.pack("<H", millivolts - n // 8) + struct.pack(">hB", round(10 * g), n % 256)
        return data + bytes([crc8(data[3:], poly=0x1D, init=init)])

    found = learned(packet, link="serial")
    assert found.is_sure, found.reasons
    late = [packet(123.4, 5, 2700), packet(-12.3, 6, 2700)]
    assert reads(found, *late, link="serial") == [123.4, -12.3]


def test_a_check_that_a_catalogue_lists_is_found_as_it_is_listed():
    def packet(g: float, n: int) -> bytes:
        data = b"\xa7\x07\x00" + struct.pack(">hB", round(10 * g), n % 256)
        return data + bytes([crc8(data[2:], poly=0x1D, init=0xFD)])

    check = learned(packet).outside
    assert check is not None
    assert check.check is not None
    assert (check.check.init, check.check.xorout) == (0xFD, 0)


def test_a_check_may_end_among_bytes_that_stay():
    """The lowest byte of a float does, of whole counts; a clock stands between it and the check."""

    def packet(g: float, n: int) -> bytes:
        data = b"\x8d" + struct.pack(">f", float(max(round(3 * g), 0)))
        return (
            data
            + b"\xf2"
            + struct.pack(">H", n // 3)
            + bytes([crc8(data, poly=0xA7, refin=True, refout=True)])
        )

    outside = learned(packet, noise_g=0.4).outside
    assert outside is not None
    assert outside.check is not None
    assert (outside.check.start, outside.check.stop) == (0, 5)


def test_a_check_is_over_all_that_stays_first_rather_than_over_some_of_it():
    """What the first four bytes make of a register of ones is nought, with which one at the fifth begins."""

    def packet(g: float, n: int, tenths: int = 264) -> bytes:
        data = b"\xe8\x3c\x4c" + struct.pack(">H", tenths) + round(10 * g).to_bytes(3, "big")
        return data + bytes([crc8(data, poly=0x31, init=0xFF)])

    found = learned(lambda g, n: packet(max(g, 0.0), n))
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 1, 208)) == [pytest.approx(123.4)]


def test_a_number_is_covered_whole_though_its_first_digits_have_always_been_blank():
    """The check stands among the first bytes, over one before it too: so it begins with nothing usual."""

    def packet(g: float, n: int) -> bytes:
        body = f"{g:10.1f}".encode() + struct.pack("<I", 977 * n)
        return b"\x5a" + bytes([crc8(b"\x5a" + body, poly=0x1D, init=0xFF, xorout=0xFF)]) + body

    found = learned(packet)
    assert found.description is not None, found.reasons
    assert reads(found, packet(1030.9, 700)) == [pytest.approx(1030.9)]


def test_a_check_of_two_bytes_is_none_of_one_over_its_own_upper_byte():
    """A polynomial of 16 bits with a factor of 8: its remainder by that factor is nought, check and all."""

    def packet(g: float, n: int, millivolts: int = 3980) -> bytes:
        data = (
            b"\x17" + millivolts.to_bytes(2, "big") + struct.pack(">iHB", round(98.5 * g), n % 9 * 31, 0x4C)
        )
        return data + (crc(data, 16, 0x0589, 0, 0, 1)).to_bytes(2, "big")

    found = learned(packet, (0.0, 200.0, 500.0), link="serial")
    assert found.is_sure, found.reasons
    (value,) = reads(found, packet(123.4, 5, 3300), link="serial")
    assert value == pytest.approx(123.4, abs=0.02)

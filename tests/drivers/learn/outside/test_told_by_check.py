"""Frames of a stream that begin with nothing that stays and end with no mark: a long check tells them."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace

import pytest

from drivers.learn.checks.check import Check
from drivers.learn.outside.framed import Outside, likelihood_of
from tests.drivers.learn.made_checks import CRC16, crc
from tests.drivers.learn.small import learned, reads

BEGINNINGS: dict[str, Callable[[float, int], bytes]] = {
    "a counter": lambda g, n: struct.pack(">BhB", n % 256, round(10 * g), 0x40 | (n % 160 > 9)),
    "the weight": lambda g, n: struct.pack("<ihB", round(100 * g), 215 + n // 100, 2 * n % 256),
}


@pytest.mark.parametrize("check", CRC16[:3], ids=str)
@pytest.mark.parametrize("beginning", BEGINNINGS)
def test_a_check_of_16_bits_tells_frames_that_begin_with_what_changes(beginning: str, check: tuple):
    def packet(g: float, n: int) -> bytes:
        data = BEGINNINGS[beginning](g, n)
        return data + crc(data, 16, *check).to_bytes(2)

    found = learned(packet, (0.0, 100.0, 250.0, 1000.0), link="serial")
    assert found.is_sure, found.reasons
    later = [packet(g, 300 + n) for n, g in enumerate((123.4, 15.5, 900.2, -12.3))]
    damaged = later[0][:3] + bytes([later[0][3] ^ 0x20]) + later[0][4:]
    said = reads(found, *later, damaged, later[0], link="serial")
    assert said == [123.4, 15.5, 900.2, -12.3, None, 123.4]


def test_a_check_of_one_byte_is_right_too_often_to_tell_where_a_frame_begins():
    def packet(g: float, n: int) -> bytes:
        data = BEGINNINGS["a counter"](g, n)
        return data + bytes([crc(data, 8, 0x07, 0, 0, 0)])

    assert not learned(packet, (0.0, 100.0, 250.0, 1000.0), link="serial").is_sure


def test_a_cyclic_check_stands_behind_what_it_covers():
    """Cut elsewhere, the same frames begin with other bytes that stay for now."""
    straight = Check("crc16", 11, 1, 5, "big", False, 0x8005)
    turned = replace(straight, at=1, start=4, stop=8)
    assert likelihood_of(Outside((0x09,), 13, b"", straight)) > likelihood_of(
        Outside((0x01,), 13, b"", turned)
    )

"""Numbers of two words, of which no load has needed the upper one."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed


@pytest.mark.parametrize("nought", [0, 0x80000000], ids=["two's complement", "offset binary"])
@pytest.mark.parametrize("order", ["cdab", "badc"])
def test_a_word_that_goes_on_below_nought_is_the_upper_one(nought: int, order: str):
    def packet(g: float, n: int) -> bytes:
        upper, lower = divmod(round(10 * g) + nought & 0xFFFFFFFF, 0x10000)
        words = struct.pack(">HH", lower, upper) if order == "cdab" else struct.pack("<HH", upper, lower)
        data = bytes((0xAA, 0x55, n % 256)) + words
        return data + summed(data)

    found = learned(packet, noise_g=0.08)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 1), packet(4321.0, 2)) == [-12.3, 4321.0]


def test_a_copy_that_is_below_nought_when_the_weight_is_nought_is_no_upper_word():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBhi", 0xAA, n % 256, round(10 * g), round(1000 * g))
        return data + summed(data)

    found = learned(packet, noise_g=0.08)
    assert reads(found, packet(-12.3, 1), packet(321.0, 2)) == [-12.3, 321.0]

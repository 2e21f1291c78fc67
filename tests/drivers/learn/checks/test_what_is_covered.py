"""Checks that cover the end of frames only: what stands before may be a message of its own, or not."""

from __future__ import annotations

import struct
from collections.abc import Callable

import pytest

from tests.drivers.learn.small import learned, reads, xor


@pytest.mark.parametrize(
    ("between", "is_sure"),
    [
        pytest.param(lambda n: n * 37 % 251, True, id="what changes"),
        pytest.param(lambda _: 0xA5, False, id="what may begin one"),
    ],
)
def test_a_message_of_its_own_begins_with_a_byte_that_stays(between: Callable[[int], int], is_sure: bool):
    def packet(g: float, n: int) -> bytes:
        before = b"\x7e\xc6" + struct.pack("<IHH", 977 * n, 31 * n % 65_536, 113 * n % 65_536)
        body = struct.pack(">hB", round(10 * g), n % 256)
        return before + bytes([between(n)]) + body + xor(body)

    found = learned(packet, link="serial")
    assert found.is_sure == is_sure, found.reasons


def test_a_check_among_the_first_bytes_is_that_of_all():
    def packet(g: float, n: int) -> bytes:
        body = struct.pack(">hB", round(10 * g), n % 256)
        return b"\x7e\xc6" + xor(body) + struct.pack("<IHB", 977 * n, 31 * n % 65_536, 0xA5) + body

    found = learned(packet, link="serial")
    assert found.is_sure, found.reasons


def test_noughts_before_a_check_that_it_need_not_cover_are_left_out():
    """They are the upper bytes of a copy, filled with ones some day; a counter stands behind."""

    def packet(g: float, n: int) -> bytes:
        data = b"\xd5\x91" + struct.pack(">hB", round(10 * g), 31 * n % 256)
        return data + struct.pack(">iB", round(g), n % 256) + bytes([-sum(data) % 256])

    found = learned(lambda g, n: packet(max(g, 0.0), n))
    assert found.description is not None, found.reasons
    assert reads(found, packet(-12.3, 3)) == [-12.3]

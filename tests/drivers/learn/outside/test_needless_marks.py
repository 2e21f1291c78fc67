"""Bytes that stay the same behind others that change, and whether they tell messages apart."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace

from drivers.learn.rewriting import without_needless_mark
from drivers.learn.streams import streams_of
from drivers.learn.written import written_as
from tests.drivers.learn.small import LOADS, captured, learned, reads


def header_left(packet: Callable[[float, int], bytes], header: tuple[int | None, ...]) -> object:
    """Learn frames, and give what is left of a header that takes in a byte further back."""
    capture, found = captured(packet, LOADS, 0.05, "serial"), learned(packet, link="serial")
    assert found.choice.best is not None
    assert found.outside is not None
    outside = replace(found.outside, header=header)
    written = written_as("a", capture, found.choice.best, outside, is_joined=False)
    stream = streams_of(capture)[0]
    return without_needless_mark("a", capture, stream, (found.choice.best, outside, written))[0].header


def test_the_upper_byte_of_a_voltage_is_no_part_of_a_header():
    def packet(g: float, n: int) -> bytes:
        return struct.pack("<BBBHfB", 0xBE, 0xF5, n % 256, 3980 - n // 40, round(10 * g) * 100.0, 0x0A)

    assert header_left(packet, (0xBE, 0xF5, None, None, 0x0F)) == (0xBE, 0xF5)


def test_a_byte_that_names_a_message_stays():
    def packet(g: float, n: int) -> bytes:
        kind = 2 if n % 4 == 3 else 1
        value = 2222.0 + n % 3 if kind == 2 else round(10 * g) * 100.0
        return struct.pack("<BBBBfB", 0xBE, 0xF5, n % 256, kind, value, 0x0A)

    assert header_left(packet, (0xBE, 0xF5, None, 1)) == (0xBE, 0xF5, None, 1)


def test_the_sign_of_a_copy_is_no_mark_where_one_stands_behind_it():
    def frame(g: float, n: int) -> bytes:
        later = round(10 * g) if n % 160 > 20 else abs(round(10 * g))
        data = bytes((0x2D if later < 0 else 0x20, 0x82)) + struct.pack(
            "<iBH", round(10 * g), n % 256, abs(later)
        )
        return data + bytes([sum(data) % 256])

    found = learned(lambda g, n: frame(max(g, 0.0), n), noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, *(frame(-12.5, n) for n in range(41, 44)), link="serial")[1:] == [-12.5, -12.5]

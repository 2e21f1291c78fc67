"""Frames that begin with nothing that stays, and end with what does."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor


@pytest.mark.parametrize("is_checked", [True, False])
def test_frames_are_found_by_their_end_where_nothing_that_stays_begins_them(is_checked: bool):
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<HBhH", 7 * n, 0x80 * (n % 160 > 9), round(10 * g), 210 + n % 7)
        return (summed(data) if is_checked else b"") + data + b"\xd2\x62"

    found = learned(packet, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 70), packet(-12.3, 71), packet(0.5, 72), link="serial")[:2] == [
        123.4,
        -12.3,
    ]


def test_a_number_before_a_mark_is_not_left_out_for_a_copy_that_lags():
    slow_g = 0.0

    def packet(g: float, n: int) -> bytes:
        nonlocal slow_g
        slow_g += (g - slow_g) * 0.3
        data = struct.pack(">fHhB", float(round(g)), n // 3, round(slow_g), n % 256)
        return data + xor(data) + b"\xd1"

    found = learned(packet, (0.0, 220.7, 1025.3, 20.0), link="serial", noise_g=0.4)
    assert found.choice.best is not None
    assert found.choice.best.number.encoding == "float"


def test_a_type_byte_tells_messages_apart_that_begin_alike_where_an_end_is_marked():
    slow_g = 0.0

    def signed(g: float) -> bytes:
        counts = round(10 * g) * 100
        return (abs(counts) | 0x800000 * (counts < 0)).to_bytes(3)

    def state(n: int) -> bytes:
        return b"\x5a\x5a\x00" + bytes([9, 0x1B + n // 100, 0x0E, 0xAE, 0x11])

    def packet(g: float, n: int) -> bytes:
        nonlocal slow_g
        slow_g += (g - slow_g) * 0.2
        data = b"\x5a\x5a\x01" + signed(g) + b"\x00" + signed(slow_g)
        data += bytes([n % 256, 0x53 + 2 * (n % 160 < 5)]) + b"\x0d"
        return data + (state(n) if n % 5 == 0 else b"")

    # At 200 g, the end mark 0x0D stands in the number as well, where a frame of the other message would end.
    found = learned(packet, (0.0, 100.0, 50.0, 200.0), link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, *(packet(25.3, n) for n in range(5, 9)), link="serial").count(25.3) >= 3
    assert [each for each in reads(found, *map(state, range(4)), link="serial") if each is not None] == []


def test_flags_that_are_like_an_end_at_rest_are_none():
    def packet(g: float, n: int) -> bytes:
        flags = 0x2D if 0 < n % 160 < 3 else 0x0D
        return b"\xde\x62" + (round(10 * g) + 0x800000).to_bytes(3) + bytes([flags])

    found = learned(packet, link="serial")
    assert found.is_sure, found.reasons
    moving = [packet(g, n) for n, g in enumerate((12.5, 33.3, 77.7), 161)]
    assert reads(found, *moving, link="serial")[:2] == [12.5, 33.3]


def test_the_upper_byte_of_a_number_that_no_load_has_needed_is_no_header_where_two_bytes_mark_the_end():
    slow_g = [0.0]

    def frame(g: float, n: int) -> bytes:
        slow_g[0] += 0.2 * (g - slow_g[0])
        return bytes.fromhex(f"{abs(round(10 * slow_g[0])):06d}{abs(round(10 * g)):06d}55aa")

    found = learned(frame, (0.0, 228.2, 868.1, 410.0), 0.05, link="serial")
    assert found.is_sure, found.reasons
    heavy = bytes.fromhex("01200001234555aa")
    assert reads(found, heavy, heavy, link="serial") == pytest.approx([1234.5] * 2)


def test_a_temperature_in_whole_degrees_is_no_end_beside_a_header_that_suffices():
    def frame(g: float, n: int, degrees: int = 0x16) -> bytes:
        return struct.pack("<BBBBHiB", 0xF1, 0x9B, 0x84, n % 251, 3980 - n // 9, round(74.3 * g), degrees)

    found = learned(frame, link="serial")
    assert found.description is not None
    values = reads(found, *(frame(123.4, n, 0x19) for n in (3, 4, 5)), link="serial")
    assert [value for value in values if value is not None] != []

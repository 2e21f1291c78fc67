"""Bytes that stay at the beginning of frames without a check: upper ones of what changes slowly."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.outside.beside_clocks import begins_beside_clock
from tests.drivers.learn.small import learned, reads, summed


def weight(g: float) -> bytes:
    return (0x800000 + round(10 * g)).to_bytes(3, "big")


def test_the_upper_byte_of_a_clock_is_no_part_of_a_header_though_frames_may_begin_with_it():
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BHB", 0x6B, 0x94B5 + n // 10, 0x62) + weight(g)

    found = learned(frame, link="serial")
    earlier = struct.pack(">BHB", 0x6B, 0x7C10, 0x62) + weight(123.4)
    assert reads(found, earlier, link="serial") == [pytest.approx(123.4)]


def test_the_upper_byte_of_a_voltage_that_falls_once_is_no_part_of_a_header():
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BHB", 0xBE, 0x1029 - n // 400, 0x62) + weight(g)

    found = learned(frame, link="serial")
    empty = struct.pack(">BHB", 0xBE, 0x0F10, 0x62) + weight(123.4)
    assert reads(found, empty, link="serial") == [pytest.approx(123.4)]


def test_a_byte_before_a_counter_that_has_gone_round_belongs_to_the_header():
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BBBB", 0x6B, 0x94, n % 256, 0x62) + weight(g)

    found = learned(frame, link="serial")
    assert found.outside is not None
    assert found.outside.header == (0x6B, 0x94)


def test_the_upper_byte_of_a_voltage_is_no_part_of_a_header_before_a_sum():
    """In mV it is 0x10 while a cell is full, with which some frames begin."""

    def frame(g: float, n: int, millivolts: int = 4156) -> bytes:
        data = (
            struct.pack(">BH", 0xDA, millivolts - n // 300) + f"{g:7.1f}".encode() + struct.pack(">I", 10 * n)
        )
        return data + summed(data)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.4, 90, 3700), link="serial") == [pytest.approx(123.4)]


def test_the_upper_byte_of_a_clock_is_no_part_of_a_header_before_a_sum_though_it_is_a_usual_mark():
    """It is 0x02 while the clock is young, an STX; the sum does not cover the first byte."""

    def frame(g: float, n: int, clock_s: int = 0x0210) -> bytes:
        data = struct.pack(">Hf", clock_s + n // 10, round(g, 1))
        return b"\xc4" + data + bytes([-sum(data) % 256])

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.4, 7, 0x0E65), link="serial") == [pytest.approx(123.4)]


def test_all_of_a_header_that_may_be_the_upper_byte_of_a_voltage_leaves_it_open():
    """Nothing else marks the frame, and the sum to nought is right wherever frames are cut."""

    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">HHf", 0x1017 - n // 90 + n % 2, n % 160 < 12, round(g, 1))
        return data + bytes([-sum(data) % 256])

    assert not learned(frame, link="serial").is_sure


@pytest.mark.parametrize(
    ("packet", "is_beside"),
    [
        pytest.param(
            lambda n: struct.pack(">BHB", 0x6D, 0xCD00, 0) + bytes([n % 7]), False, id="nothing goes"
        ),
        pytest.param(lambda n: struct.pack(">BBI", 0x6D, 0xCD + n // 50, 0), True, id="seconds behind"),
        pytest.param(lambda n: struct.pack(">BHI", 0x6D, 20 * n, 0), True, id="milliseconds behind"),
        pytest.param(lambda n: struct.pack(">BBI", 0x6D, n % 256, 0), False, id="a counter that comes round"),
        pytest.param(lambda n: struct.pack("<BIH", 0x03, 0, 0xD110 + 2 * n), True, id="upper bytes before"),
        pytest.param(
            lambda n: struct.pack(">BHI", 0x6D, 250 * min(n // 80, 5), 0), False, id="a load that grows"
        ),
    ],
)
def test_a_first_byte_may_be_the_upper_one_of_a_clock_that_goes_on(packet, is_beside):
    frames = np.array([list(packet(n)) for n in range(480)], dtype=np.uint8)
    assert begins_beside_clock(frames, 1) == is_beside

"""Bytes that stay throughout a capture and are others some day: a frame is not looked for by those."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

import pytest

from tests.drivers.learn.small import learned, reads, xor

LOADS = (0.0, 200.0, 1000.0, 338.0)
NOISE = random.Random(3)

Frame = Callable[[float, int, int], bytes]


def before_the_end(g: float, n: int, charge: int) -> bytes:
    body = b"\x07" + bytes.fromhex(f"{max(round(10 * g), 0):06d}") + bytes([charge, 0xED])
    return xor(body) + body


def alone_in_front(g: float, n: int, charge: int) -> bytes:
    return bytes([charge]) + f"{round(g):+7d}".encode() + bytes([0xC3 | 8 * (n % 160 < 12), 0xD4, 0x7D])


def last_of_a_header(g: float, n: int, charge: int) -> bytes:
    count = struct.pack(">fHB", float(round(64.44 * g)), n // 7, n % 256)
    return b"\x27\x2c\x83\x78" + bytes([charge, NOISE.randrange(256)]) + count


def bars_in_the_end(g: float, n: int, bars: int) -> bytes:
    tenths = max(round(10 * g), 0).to_bytes(3, "little")
    return bytes((0xFE, 0x08, 0x01 if n % 160 > 20 else 0x09, 0x62)) + tenths + bytes([bars])


def upper_byte_of_a_voltage(g: float, n: int, upper: int) -> bytes:
    millivolts = 256 * upper + 0x76 + (0, 3, 1, 4, 2)[n % 5]
    whole = b"\x1c\x2f\x83\xff" + struct.pack("<fH", round(10 * g) / 10, millivolts)
    return whole[:5] + whole[6:] if n % 41 == 40 else whole  # what has lost a byte is whole at its end


def upper_byte_of_a_clock(g: float, n: int, upper: int) -> bytes:
    clock_ms = (upper << 24) + 0x07_2A_00 + 75 * n
    return b"\xa5" + struct.pack("<hhI", n % 160 * (n % 160 < 12), round(10 * g), clock_ms)


def before_a_mark_of_two(g: float, n: int, charge: int) -> bytes:
    return bytes([charge]) + (0x80_0000 + round(100 * g)).to_bytes(3) + b"\xcc\x47"


@pytest.mark.parametrize(
    ("frame", "now", "later"),
    [
        pytest.param(before_a_mark_of_two, 30, 20, id="in front of a mark of which one byte may be a charge"),
        pytest.param(upper_byte_of_a_voltage, 9, 8, id="before the first byte"),
        pytest.param(upper_byte_of_a_clock, 2, 0, id="of a clock, an STX"),
        pytest.param(bars_in_the_end, 3, 2, id="bars, three of which are an ETX"),
        pytest.param(before_the_end, 72, 54, id="before what frames end with"),
        pytest.param(alone_in_front, 98, 97, id="alone in front"),
        pytest.param(last_of_a_header, 64, 61, id="behind what frames begin with"),
    ],
)
def test_frames_are_found_when_a_battery_has_fallen(frame: Frame, now: int, later: int):
    found = learned(lambda g, n: frame(g, n, now), LOADS, 0.05, "serial")
    assert found.description is not None, found.reasons
    packets = [frame(123.0, n, later) for n in range(20, 26)]
    said = [value for value in reads(found, *packets, link="serial") if value is not None]
    assert len(said) >= 5
    assert said == pytest.approx([123.0] * len(said), abs=0.03)


def test_frames_are_found_behind_a_state_that_hardly_came_before():
    """The pan settles so soon that the state of moving is seen a few times only, at the end of a frame."""

    def frame(g: float, state: int) -> bytes:
        return b"\x24\x06\x01" + round(100 * g).to_bytes(4, "little", signed=True) + bytes([state, 0xAF])

    def packet(g: float, n: int) -> bytes:
        other = b"\x24\x06\x02" + bytes([n % 256, 77, 3, 0, 0, 0xAF])
        return frame(g, 0x80 if n % 160 < 2 else 0xC0) + (other if n % 9 == 4 else b"")

    found = learned(packet, (0.0, 20.0, 10.0, 500.0), 0.0, "serial")
    assert found.description is not None, found.reasons
    moving = [frame(123.45, 0x80)] * 8
    said = [value for value in reads(found, *moving, link="serial") if value is not None]
    assert said == pytest.approx([123.45] * len(said))
    assert len(said) >= 7


def test_what_must_mark_a_frame_and_goes_on_with_a_clock_leaves_it_open():
    """The last bytes of another message look like the first ones of this, but for the clock's upper byte."""

    def packet(g: float, n: int) -> bytes:
        clock = struct.pack(">H", 0x89CA + n // 14)
        other = bytes([0x01, 0x02, 0x34, 0x01]) if n % 5 == 2 else b""
        return b"\x01\x01" + clock + round(1000 * g / 28.349523125).to_bytes(3, "big", signed=True) + other

    found = learned(lambda g, n: packet(max(g, 0.0), n), LOADS, 0.0, "serial")
    assert not found.is_sure

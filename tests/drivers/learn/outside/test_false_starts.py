"""Frames that seem to begin inside of others, and what tells where they do."""

from __future__ import annotations

import random
import struct
from dataclasses import replace

from drivers.learn import Arrival, Capture, learn
from tests.drivers.learn.small import LOADS, captured, learned, reads


def to_nought(data: bytes) -> bytes:
    """Give a check that makes the sum of all bytes nought, in whatever turn they come."""
    return data + bytes([-sum(data) % 256])


def in_chunks(capture: Capture) -> Capture:
    """Let a line be read now and then, in the middle of a frame or not."""
    rng, data, arrivals = random.Random(3), b"", []
    for one in capture.arrivals:
        data += one.data
        size = rng.randrange(1, len(data)) if rng.random() < 0.7 else 0
        arrivals.append(Arrival(one.time_s, 0, data[:size]))
        data = data[size:]
    return replace(capture, arrivals=tuple(one for one in arrivals if one.data))


def test_a_first_byte_that_the_number_has_as_well_is_not_all_that_tells_where_a_frame_begins():
    def frame(g: float, n: int) -> bytes:
        digits = bytes.fromhex(f"{max(0, round(100 * g)):06d}")
        return to_nought(bytes([0x02, 0x35, 0x08, 0x46 | 0x10 * (n % 160 > 9), 0x00, 0x21, 0x00]) + digits)

    found = learned(frame, (0.0, 412.9, 147.4, 31.3), noise_g=0.0, link="serial")
    assert found.is_sure, found.reasons
    whole = frame(239.95, 20)
    damaged = b"\x03" + whole[1:]
    assert set(reads(found, whole, damaged, *[whole] * 8, link="serial")) - {None} == {239.95}


def test_the_upper_byte_of_a_clock_does_not_tell_where_a_frame_begins():
    def frame(g: float, n: int) -> bytes:
        data = b"\x43" + struct.pack(">f", round(g, 1)) + struct.pack(">I", 0x040650 + n // 10)
        return to_nought(data + bytes([n % 256]))

    found = learned(frame, link="serial")
    later = b"\x43" + struct.pack(">fI", 20.0, 0x050000) + b"\x07"
    assert reads(found, to_nought(later), link="serial") == [20.0]


def test_a_byte_that_names_messages_stays_though_a_clock_goes_on_behind_it():
    def frame(g: float, n: int) -> bytes:
        state = bytes([0xFD, 0x02, 0x3F, n % 7]) if n % 5 == 2 else b""
        return struct.pack(">BBHhB", 0xFD, 0x01, 0x7AE1 + 12 * n, round(10 * g), n % 256) + state

    found = learned(frame, link="serial")
    assert found.outside is not None
    assert found.outside.header == (0xFD, 0x01)


def test_two_first_bytes_that_are_alike_both_stay():
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BBHBhB", 0xD7, 0xD7, 0x1701 + n // 100, n * 37 % 251, round(10 * g), n % 160 > 9)

    found = learn(in_chunks(captured(frame, LOADS, 0.05, "serial")))
    assert found.outside is not None
    assert found.outside.header == (0xD7, 0xD7)


def test_a_frame_is_read_as_soon_as_what_it_holds_is_there():
    """What stays between two numbers may begin a frame, or end one; it is not waited for."""

    def frame(g: float, n: int) -> bytes:
        return struct.pack(
            ">BBBHBhB", 0x7C, 0xD7, 0xD7, 0x1701 + n // 100, n * 37 % 251, round(10 * g), n % 160 > 9
        )

    found = learn(in_chunks(captured(frame, LOADS, 0.05, "serial")))
    assert found.is_sure, found.reasons
    assert reads(found, frame(123.4, 50), link="serial") == [123.4]

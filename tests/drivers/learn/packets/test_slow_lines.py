"""A slow line that is read again and again: each time it gives a few bytes, as many or one more."""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest

from drivers.learn import Arrival, Capture, learn
from tests.drivers.learn.small import LOADS, captured, reads, xor


def _read_evenly(capture: Capture, sizes: tuple[int, ...]) -> Capture:
    """Let the same bytes come in pieces of these sizes in turn, with equal times between them."""
    data = b"".join(each.data for each in capture.arrivals)
    per_s = len(data) / (capture.arrivals[-1].time_s + 0.075)
    arrivals, at = [], 0
    while at < len(data):
        size = sizes[len(arrivals) % len(sizes)]
        at += size
        arrivals.append(Arrival(at / per_s, 0, data[at - size : at]))
    return replace(capture, arrivals=tuple(arrivals))


@pytest.mark.parametrize("sizes", [(4, 3, 4, 4, 3), (5, 5, 4)])
def test_pieces_that_are_as_long_but_for_a_byte_are_no_frames(sizes: tuple[int, ...]):
    def message(code: int, payload: bytes) -> bytes:
        body = bytes((0xEA, 0x39, code, 8)) + payload.ljust(8, b"\0")
        return body + xor(body) + b"="

    def weight(g: float) -> bytes:
        return message(1, b"\x80" + b"%7.1f" % g)

    def packet(g: float, n: int) -> bytes:
        flow = message(3, bytes(2))
        return weight(g) + flow + (message(4, bytes((n % 256,))) if n % 2 else message(2, b"\x00\xf1"))

    found = learn(_read_evenly(captured(packet, LOADS, 0.05, "serial"), sizes))
    assert found.is_sure, found.reasons
    said = [each for each in reads(found, weight(432.1) + weight(0.0), link="serial") if each is not None]
    assert said == pytest.approx([432.1, 0.0])


@pytest.mark.parametrize("sizes", [(6, 6, 3, 6, 3), (4, 8, 4, 8, 12), (9, 3, 6, 6), (7, 12, 9, 8)])
def test_pieces_that_begin_elsewhere_in_each_frame_are_no_frames(sizes: tuple[int, ...]):
    def packet(g: float, n: int) -> bytes:
        body = struct.pack(">HBHi", 0x6A76, 0xA4 + n % 3, n % 0x10000, round(100 * g)) + b"\x00\x45"
        return body + xor(body)

    found = learn(_read_evenly(captured(packet, LOADS, 0.05, "serial"), sizes))
    assert found.is_sure, found.reasons
    assert found.description is not None
    assert found.description.frames[0].checksum is not None
    assert reads(found, packet(432.1, 1), link="serial") == [pytest.approx(432.1)]


@pytest.mark.parametrize("size", [9, 10, 11, 12])
def test_a_frame_that_is_read_in_two_pieces_each_time_is_one(size: int):
    """A computer that reads twenty times a second finds as much of each frame, and then the rest."""

    def frame(g: float, n: int) -> bytes:
        body = b"\x9b\x5a\x85" + struct.pack("<BIHi", n % 256, 26 * n, 0x85, round(1.53 * g))
        return body + xor(body)

    whole = captured(frame, (607.2, 196.0, 300.0, 1000.0), 0.3, "serial")
    arrivals = [
        Arrival(each.time_s + late_s, 0, piece)
        for each in whole.arrivals
        for late_s, piece in ((0.0, each.data[:size]), (0.0375, each.data[size:]))
    ]
    found = learn(replace(whole, arrivals=tuple(arrivals)))
    assert found.is_sure, found.reasons
    assert reads(found, frame(500.0, 7), link="serial") == [pytest.approx(500.0, abs=0.5)]


def test_frames_that_are_read_in_other_pieces_each_second_time_are_frames():
    """Twenty times a second a computer reads what a line brings every 75 ms: one begins in the middle."""

    def frame(g: float, n: int) -> bytes:
        body = b"\x67\x51" + struct.pack("<BBBH", 0x80 + n % 16, 8, 0, round(abs(g))) + bytes([29 * n % 256])
        return body + xor(body) + b"\xee\x0c"

    data = b"".join(each.data for each in captured(frame, LOADS, 0.3, "serial").arrivals)
    arrivals, at = [], 0
    while at < len(data):
        size = (4, 6, 2, 6, 4)[len(arrivals) % 5]
        arrivals.append(Arrival(0.03 * len(arrivals), 0, data[at : at + size]))
        at += size
    found = learn(replace(captured(frame, LOADS, 0.3, "serial"), arrivals=tuple(arrivals)))
    assert found.is_sure, found.reasons
    said = reads(found, frame(1.0, 6) + frame(432.0, 7) + frame(5.0, 8), link="serial")
    assert said[-2:] == [432.0, 5.0]

"""Bytes that stay the same side by side, at the end of one frame and the beginning of the next."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
import pytest

from drivers.decoders.checksums import crc16
from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number
from drivers.learn.outside.turning import from_run
from drivers.learn.packets.framing import stream_of
from drivers.learn.packets.kinds import Kind
from tests.drivers.learn.small import LOADS, captured, learned, reads


def beside_charge(g: float, n: int) -> bytes:
    return b"\x76\x62\x00\x00\x5b" + f"{round(g):5d}".encode() + bytes([n % 256])


def with_two_marks(g: float, n: int) -> bytes:
    return b"\x6d\x85" + struct.pack(">f", float(round(g))) + bytes([0xFC + (n % 160 < 12)])


@pytest.mark.parametrize(
    ("packet", "first", "number", "begins_with"),
    [
        pytest.param(beside_charge, 4, Number("ascii", 1, 5), b"\x76\x62", id="a battery's charge"),
        pytest.param(with_two_marks, 1, Number("float", 1, 4), b"\x6d\x85", id="the second of two marks"),
    ],
)
def test_frames_cut_inside_a_run_that_stays_begin_with_it(
    packet: Callable[[float, int], bytes], first: int, number: Number, begins_with: bytes
):
    capture = captured(packet, LOADS, 0.4, "serial")
    joined = stream_of(0, [(one.time_s, one.data) for one in capture.arrivals])
    length = len(packet(0.0, 0))
    begins = np.arange(first, len(joined.data) - length, length)
    frames = joined.data[begins[:, None] + np.arange(length)]
    kind = Kind(0, joined.time_s[begins + length - 1], frames, is_cut=True, begins=begins)
    seen = kind.seen_with(capture.loads)
    assert seen is not None
    one = fit(seen, number, capture.loads, "weight")
    assert one is not None
    turned = from_run(one, begins, joined, capture.loads, "weight")
    assert turned is not None
    assert turned.kind.frames[0, :2].tobytes() == begins_with
    assert turned.number.offset == number.offset + first
    assert turned.inside == pytest.approx(one.inside, abs=0.01)


def test_what_stays_at_the_end_of_a_frame_begins_no_other_where_the_line_waits_between():
    def frame(g: float, n: int) -> bytes:
        other = b"\x3c\x02" + bytes([n % 256, n // 90, 0x07]) if n % 4 == 1 else b""
        text = f"{round(g, 1):9.1f}".encode()
        return other or b"\x3c\x01" + text + struct.pack("<f", 22.78 + 1e-4 * n)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    other = b"\x3c\x02\x09\x01\x07"
    assert reads(found, frame(123.4, 2), other, frame(-20.5, 3), link="serial")[-1] == pytest.approx(-20.5)


def test_a_nought_alone_is_no_header_where_an_end_is_marked():
    """It is the upper byte of ounces, which are below nought when the number is so by more than a little."""

    def frame(g: float, n: int) -> bytes:
        ounces = round(100 * g / 28.349523125).to_bytes(3, "big", signed=True)
        data = ounces + b"\xb5\x00" + struct.pack(">fB", g, 0x80 * (n % 160 > 12))
        return data + crc16(data, poly=0x1021, init=0, refin=True, refout=True, xorout=0).to_bytes(2) + b"\r"

    found = learned(frame, (0.0, 308.0, 1269.2, 1000.0), 0.01, "serial")
    assert found.is_sure, found.reasons
    below = frame(-192.2, 20)
    assert reads(found, below, below, link="serial")[0] == pytest.approx(-192.2)

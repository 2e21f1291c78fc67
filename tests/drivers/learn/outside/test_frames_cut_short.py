"""Frames that lose bytes, and go on with the beginning of the next one: those are no other kind."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.picking import picked_out, places_found
from drivers.learn.packets.framing import ByteStream, stream_of
from drivers.learn.packets.kinds import Kind
from tests.drivers.learn.small import LOADS, captured, learned, reads, summed


def test_upper_bytes_of_a_copy_name_no_messages_though_frames_that_lose_bytes_share_others():
    def frame(g: float, n: int) -> bytes:
        low, high = struct.unpack(">HH", struct.pack(">i", round(10 * g)))[::-1]
        return bytes((0x55, 97 * n % 256, 0x53, 0xDA, 0x5E)) + struct.pack(">HHf", low, high, g / 1000)

    def damaged(g: float, n: int) -> bytes:
        whole = frame(abs(g), n)
        if n % 61 == 5:
            return whole[: 5 + n % 3] + whole[6 + n % 3 :]
        return whole[: 3 + n % 4] if n % 53 == 7 else whole

    found = learned(damaged, noise_g=0.03, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(-12.5, 1), frame(250.0, 2), link="serial") == [
        pytest.approx(-12.5, abs=1e-3), pytest.approx(250.0, abs=1e-3)
    ]  # fmt: skip


def test_what_frames_end_with_is_no_header_of_those_behind_where_more_is_read_without_it():
    """It is missing behind frames that are cut short, and stands behind those that have lost a byte."""

    def frame(g: float, n: int) -> bytes:
        body = b"\xfe\x55" + struct.pack(">BiBH", 0x13, round(10 * g), n % 256, 0xF7E6)
        return body + summed(body) + b"\x55\xaa"

    def damaged(g: float, n: int) -> bytes:
        whole = frame(g, n)
        if n % 61 == 5:
            return whole[: 3 + n % 6] + whole[4 + n % 6 :]
        return whole[: 5 + n % 7] if n % 83 == 7 else whole

    found = learned(damaged, noise_g=0.03, link="serial")
    assert found.is_sure, found.reasons
    alone = frame(250.0, 2)[:-2]
    assert reads(found, alone, link="serial") == [pytest.approx(250.0)]


def test_a_message_begins_where_its_check_does_and_not_with_the_one_that_always_comes_before_it():
    """Where that one is damaged, the weight behind it is in order, and begins with bytes that stay too."""

    def message(body: bytes) -> bytes:
        return b"\x02" + body + summed(body) + b"\r\n"

    def weighed(g: float) -> bytes:
        return message(b"\x22" + round(10 * g).to_bytes(4, "big", signed=True))

    def sent(g: float, n: int) -> bytes:
        before = message(b"\x07\x3a\x67")
        return before[: 3 if n % 13 == 5 else 7] + weighed(g) + message(bytes((0x52, 0x58 - n // 200)))

    found = learned(sent, (594.0, 201.6, 416.8, 50.0), link="serial")
    assert found.is_sure, found.reasons
    alone = [weighed(g) for g in (1.5, 2.5, 3.5)]
    assert [value for value in reads(found, *alone, link="serial") if value is not None] == [1.5, 2.5, 3.5]


def test_a_message_without_a_check_is_read_also_where_the_one_is_missing_that_comes_before_it():
    """Both begin alike and are as long, and a third one comes seldom: two in a row are no frame."""

    def weighed(g: float) -> bytes:
        return b"\xaa\x2a\xa0" + round(56.77 * g).to_bytes(3, "big")

    def sent(g: float, n: int) -> bytes:
        before = b"\xaa\x3a\x19" + struct.pack(">HB", 0x2800 + n // 16, 0x57)
        seldom = b"\xaa\x5e\x00\x00"
        return before * (n % 29 != 7) + seldom * (n % 5 == 0) + weighed(abs(g))

    found = learned(sent, (253.9, 670.8, 0.0, 937.0), link="serial")
    assert found.is_sure, found.reasons
    alone = [weighed(g) for g in (123.4, 15.5, 0.7)]
    assert reads(found, *alone, link="serial") == [pytest.approx(g, abs=0.02) for g in (123.4, 15.5, 0.7)]


def test_frames_that_only_their_end_tells_are_found_by_it_behind_one_that_has_lost_bytes():
    data = np.frombuffer(b"\x01\x02\x9e\x03\x9e\x04\x05\x9e", dtype=np.uint8)
    stream = ByteStream(0, data, np.arange(len(data), dtype=float))
    assert places_found(Outside((), 3, b"\x9e", None), stream).tolist() == [0, 5]


def test_frames_of_which_a_stream_holds_two_name_no_other_kind_of_message():
    """Where a description would find next to nothing, the frames as they were cut are looked at instead."""

    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BhB", 0x55, 900 * (n % 50 == 7) + round(10 * g), n % 256)

    capture = captured(frame, LOADS, 0.0, "serial")
    joined = stream_of(0, [(one.time_s, one.data) for one in capture.arrivals])
    begins = np.arange(0, len(joined.data), 4)
    frames = joined.data[begins[:, None] + np.arange(4)]
    kind = Kind(0, joined.time_s[begins + 3], frames, is_cut=True, begins=begins).seen_with(capture.loads)
    assert kind is not None
    one = fit(kind, Number("integer", 1, 2, signed="twos-complement"), capture.loads, "weight")
    assert one is not None
    seldom = Outside((0x55, 0x03, 0x84), 4, b"", None)
    assert 0 < len(places_found(seldom, joined)) < len(begins)
    assert picked_out(one, seldom, joined, capture.loads, "weight") is one

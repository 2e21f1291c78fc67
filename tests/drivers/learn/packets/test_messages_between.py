"""Several kinds of messages in one stream, and streams that were cut at the wrong byte."""

from __future__ import annotations

import struct

import pytest

from drivers.learn.outside.messages import from_run_to_run
from tests.drivers.learn.small import learned, reads, xor


def test_several_messages_and_one_of_another_kind_are_no_long_frame():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack("<BBBi", 0xF0, 0x01, 0x12, round(100 * g)) + b"\x0f"
        return data + (b"\xf0\x02\x35" if n % 5 == 4 else b"")

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert found.description is not None
    assert found.description.frames[0].length in (7, 8)
    sent = struct.pack("<BBBi", 0xF0, 0x01, 0x12, 12_345) + b"\x0f"
    assert reads(found, sent, b"\xf0\x02\x35", sent, link="serial") == [
        pytest.approx(123.45),
        None,
        pytest.approx(123.45),
    ]


def test_a_check_shows_where_frames_begin_though_another_byte_looks_more_like_a_beginning():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BHBhB", 0x32, n % 0x10000, 0xA9, round(10 * g), 0x00)
        return data + bytes([-sum(data) % 256])

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert found.description is not None
    assert found.description.frames[0].checksum is not None
    assert found.description.frames[0].header[:1] == (0x32,)


def test_what_stands_before_every_message_is_its_header_though_no_check_covers_it():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack("<BBi", 0x01, 0x2B, round(10 * g)) + struct.pack("<H", n * 7 % 0x10000)
        other = bytes([0x02, 0x2B, n % 9])
        return b"\x23\x56" + data + xor(data) + (b"\x23\x56" + other + xor(other) if n % 4 == 1 else b"")

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert found.description is not None
    assert found.description.frames[0].header[:2] == (0x23, 0x56)


def test_a_byte_that_is_many_things_in_other_messages_does_not_tell_them_apart():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BBBi", 0x24, 0x01, 0xFC, round(10 * g))
        other = struct.pack(">BBBi", 0x24, 0x02, n % 0xF0, 77)
        return data + xor(data) + (other + xor(other) if n % 4 == 0 else b"")

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    other = struct.pack(">BBBi", 0x24, 0x02, 0xFC, 77)
    assert not [value for value in reads(found, other + xor(other), link="serial") if value is not None]


def test_lines_with_a_clock_are_read_though_it_comes_to_have_more_digits():
    def line(g: float, n: int) -> bytes:
        return f" {'-' if g < 0 else ' '}{abs(g):07.1f}g, GS, {400_000 + 75 * n}\r".encode()

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    later = b"  00123.4g, GS, 1400000\r"
    assert reads(found, later, b"  00123.5g, GS, 75\r", link="serial") == [123.4, 123.5]


def test_lines_that_end_in_a_star_and_a_check_are_read_where_that_is_right():
    def line(g: float, n: int) -> bytes:
        text = f"{g:+07.1f};GS;{18_000 + 75 * n}".encode()
        return text + f"*{xor(text)[0]:02X}\r\n".encode()

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    right = line(123.4, -17_000)
    assert reads(found, right, right.replace(b"3", b"9", 1), link="serial") == [123.4, None]


def test_lines_that_end_in_a_check_that_is_not_known_are_read_and_doubted():
    def line(g: float, n: int) -> bytes:
        text = f"{g:+07.1f};GS;{18_000 + 75 * n}".encode()
        return text + b"*%04X\r\n" % (hash_of(text) % 0x10000)

    def hash_of(text: bytes) -> int:
        value = 5381
        for byte in text:
            value = value * 33 + byte
        return value

    found = learned(line, link="serial")
    assert not found.is_sure
    assert "look like a check" in " ".join(found.reasons)
    assert reads(found, line(123.4, -17_000), link="serial") == [123.4]


def test_messages_of_several_kinds_in_a_fixed_order_are_no_long_frame():
    """Each has its own check and its own end; the exclusive or of them all is right for the long one too."""

    def message(kind: int, body: bytes) -> bytes:
        data = bytes([0xA5, 0x7E, len(body), kind]) + body
        return data + xor(data) + b"\x7d\x6d"

    def stream(g: float, n: int) -> bytes:
        rest = 0x24 | 0x80 * (n % 160 < 9)
        weight = message(0xEC, struct.pack(">HBhI", 70 * n % 65536, rest, round(10 * g), round(9 * abs(g))))
        clock = message(0x2E, struct.pack(">HI", 0, 75 * n))
        other = message(0xE6, struct.pack(">hI", 215, 0)) if n % 2 == 0 else b""
        flow = message(0x26, struct.pack(">hhH", 0, 215, n % 100)) if n % 5 == 0 else b""
        return weight + clock + other + flow

    found = learned(stream, link="serial")
    assert found.is_sure, found.reasons
    assert found.outside is not None
    assert found.outside.length == 16
    later = reads(found, stream(0.0, 1), stream(123.4, 2), stream(45.6, 3), link="serial")
    assert [value for value in later if value is not None][-2:] == [123.4, 45.6]


def test_messages_without_a_check_that_begin_with_the_same_bytes_are_several():
    """From a byte of one to the next of that kind is no frame, though the weight comes in it each time."""
    start = [0x5A, 0x90, 0x08]
    other, weight = [0x3A, None, 0, 0xFC, 0x0D], [*start, 0x76, None, None, None, 0, 0, 0x0D]
    fixed = [*other, *weight, *weight, *start, 0xAC, 0, 0]
    first = len(other) + len(weight)
    assert from_run_to_run(fixed, frozenset(range(first + 4, first + 7))) == (first, first + len(weight))
    assert from_run_to_run(fixed[first:], frozenset(range(4, 7))) is None  # it begins so itself

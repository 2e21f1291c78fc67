"""Frames of a line that begin with nothing that stays: their check tells where."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace

import pytest

from drivers.learn import Learned, learn
from drivers.learn.checks.check import Check
from drivers.learn.outside.false_starts import read_inside
from drivers.learn.outside.framed import Outside, likelihood_of
from tests.drivers.learn.made_checks import CRC8, CRC16, crc
from tests.drivers.learn.outside.test_false_starts import in_chunks, to_nought
from tests.drivers.learn.small import captured, learned, reads, summed

LOADS = (0.0, 412.9, 147.4, 31.3)


def bare(g: float, n: int) -> bytes:
    """Make a weight, what changes with each frame, and a cyclic check of two bytes."""
    data = struct.pack("<iH", round(10 * g), 1237 * n % 65536)
    return data + crc(data, 16, *CRC16[0]).to_bytes(2)


def digits(g: float, n: int) -> bytes:
    """Make a weight as text, of which some digit always is another one, and a cyclic check of one byte."""
    data = b"%06.1f" % max(0.0, g)
    return data + bytes([crc(data, 8, *CRC8[2])])


def with_sign(g: float, n: int) -> bytes:
    """Make what changes with each frame, a sign, a weight as pairs of digits, and their sum."""
    sign = 0x2D if round(10 * g) < 0 else 0x2B
    data = bytes([37 * n % 256, sign]) + bytes.fromhex(f"{abs(round(10 * g)):06d}")
    return data + summed(data)


def marked_inside(g: float, n: int) -> bytes:
    """Make what changes with each frame, a weight, bytes that always are the same, and a sum behind those."""
    data = struct.pack("<Bhh", n % 256, 1237 * n % 600 - 300, round(10 * g))
    return data + b"\x55\xaa" + summed(data)


def learned_in_chunks(frame: Callable[[float, int], bytes], loads: tuple[float, ...] = LOADS) -> Learned:
    return learn(in_chunks(captured(frame, loads, 0.05, "serial")))


@pytest.mark.parametrize("frame", [bare, digits, with_sign])
def test_a_check_tells_where_frames_begin(frame):
    found = learned_in_chunks(frame)
    assert found.is_sure, found.reasons
    assert found.outside is not None
    assert found.outside.is_told_by_check
    sent = [frame(g, n) for n, g in enumerate((20.0, 251.3, 380.0, 380.0))]
    assert reads(found, *sent, link="serial") == [20.0, 251.3, 380.0, 380.0]


def test_a_check_tells_where_frames_begin_that_have_marks_inside():
    found = learned(marked_inside, LOADS, link="serial")
    assert found.is_sure, found.reasons
    sent = [marked_inside(g, n) for n, g in enumerate((20.0, 251.3, 380.0))]
    assert reads(found, *sent, link="serial") == [20.0, 251.3, 380.0]


@pytest.mark.parametrize("check", CRC16[:3], ids=str)
def test_a_check_of_16_bits_tells_frames_that_begin_with_a_counter(check: tuple):
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BhB", n % 256, round(10 * g), 0x40 | (n % 160 > 9))
        return data + crc(data, 16, *check).to_bytes(2)

    found = learned(frame, (0.0, 100.0, 250.0, 1000.0), link="serial")
    assert found.is_sure, found.reasons
    later = [frame(g, 300 + n) for n, g in enumerate((123.4, 15.5, 900.2, -12.3))]
    damaged = later[0][:3] + bytes([later[0][3] ^ 0x20]) + later[0][4:]
    said = reads(found, *later, damaged, later[0], link="serial")
    assert said == [123.4, 15.5, 900.2, -12.3, None, 123.4]


def test_a_cyclic_check_stands_behind_what_it_covers():
    """Cut elsewhere, the same frames begin with other bytes that stay for now."""
    straight = Check("crc16", 11, 1, 5, "big", False, 0x8005)
    turned = replace(straight, at=1, start=4, stop=8)
    assert likelihood_of(Outside((0x09,), 13, b"", straight)) > likelihood_of(
        Outside((0x01,), 13, b"", turned)
    )


@pytest.mark.parametrize("frame", [bare, digits])
def test_frames_behind_lost_bytes_are_read(frame):
    found = learned_in_chunks(frame)
    sent = [frame(g, n) for n, g in enumerate((20.0, 251.3, 380.0, 31.4))]
    some = reads(found, sent[0], sent[1][2:], *sent[2:], link="serial")
    assert [g for g in some if g is not None] == [20.0, 380.0, 31.4]


def test_a_check_that_goes_round_tells_nothing_of_frames_that_are_alike():
    def frame(g: float, n: int) -> bytes:
        return to_nought(struct.pack("<iB", round(10 * g), 0x51 - n // 100))

    found = learned(frame, LOADS, noise_g=0.0, link="serial")
    assert found.choice.best is not None
    assert found.outside is not None
    assert found.outside.is_told_by_check
    assert read_inside(found.choice.best, found.outside) > 0.9
    assert not found.is_sure

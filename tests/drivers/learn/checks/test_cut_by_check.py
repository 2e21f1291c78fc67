"""Frames of a stream that no mark begins, cut by the check that covers all of them."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from drivers.learn.checks.cut_by_check import cut_by_check
from drivers.learn.packets.framing import ByteStream, frame_kinds, stream_of
from drivers.learn.packets.kinds import Kind
from tests.drivers.learn.made_checks import CRC8, CRC16, crc
from tests.drivers.learn.small import summed, xor

COUNT = 400


def body(n: int) -> bytes:
    """Make what goes up and down, a byte that stays, and what changes with each frame."""
    return (3000 + 40 * (n % 90)).to_bytes(2, "little") + b"\x13" + bytes([37 * n % 256])


CHECKS: dict[str, Callable[[bytes], bytes]] = {
    "sum": summed,
    "cyclic, 8 bits": lambda data: bytes([crc(data, 8, *CRC8[2])]),
    "cyclic, 16 bits": lambda data: crc(data, 16, *CRC16[0]).to_bytes(2, "little"),
}


def stream_with(check: Callable[[bytes], bytes], header: bytes = b"", lost: int = 1) -> ByteStream:
    """Join frames, some of which have lost a byte."""
    rng, arrivals = random.Random(1), []
    for n in range(COUNT):
        data = header + body(n)
        data += check(data)
        arrivals.append((0.1 * n, data[lost:] if rng.random() < 0.01 else data))
    return stream_of(0, arrivals)


def kinds_of(stream: ByteStream) -> tuple[Kind, ...]:
    return cut_by_check(tuple(frame_kinds(stream)), stream)


@pytest.mark.parametrize("check", CHECKS)
def test_frames_are_cut_where_their_check_is_right(check):
    whole, *_ = kinds_of(stream_with(CHECKS[check]))
    assert len(whole.frames) > 0.97 * COUNT
    assert (
        whole.frames[:, 2] == 0x13
    ).mean() > 0.99  # behind lost bytes, a check of one byte is right by chance
    last = whole.length - 1
    assert whole.checked == ({last - 1, last} if check == "cyclic, 16 bits" else {last})


def test_a_check_that_goes_round_tells_nothing():
    assert kinds_of(stream_with(xor)) == ()


def test_where_a_mark_tells_where_frames_begin_no_check_is_looked_for():
    assert kinds_of(stream_with(summed, b"\xaa\x55")) == ()


def test_bytes_that_no_check_covers_are_not_cut_by_one():
    assert kinds_of(stream_with(lambda data: bytes([random.Random(data).randrange(256)]))) == ()

"""Frames that were cut elsewhere than where they begin: which bytes a check is of, and what marks them."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

import numpy as np
import pytest

from drivers.decoders.checksums import crc16
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.number import Number
from drivers.learn.outside.turning import ends_before_check
from drivers.learn.packets.kinds import Kind
from tests.drivers.learn.small import captured, learned, reads

PER_LOAD = 160


def moving(g: float, n: int) -> float:
    """Let a load come slowly, so that what it goes through is seen."""
    since = n % PER_LOAD
    return g + (60.0 * 0.8**since if n >= PER_LOAD else 0.0)


PER_G, LOADS = 12.0853, (0.0, 233.8, 712.4, 1423.6)


def checked(g: float, n: int) -> bytes:
    """Make a frame with constants in its middle, and counts before its check."""
    body = struct.pack(
        ">hBBII", 2 * (n % 3) - 2, 0xE6, 0xEA, 1_499_000 + 98 * n, (1 << 31) + round(g * PER_G)
    )
    return b"\x3a" + body + struct.pack(">H", crc16(body, poly=0x1021, init=0x1D0F))


def cut(first: int, number: Number, frame: Callable[[float, int], bytes] = checked) -> Fit:
    """Hold a number against the loads in frames that were cut behind their first bytes."""
    capture = captured(lambda g, n: frame(moving(g, n), n), LOADS, 0.05, "serial")
    data = np.frombuffer(b"".join(one.data for one in capture.arrivals), dtype=np.uint8)
    length = len(capture.arrivals[0].data)
    rows = data[first : first - length].reshape(-1, length)
    times_s = np.array([one.time_s for one in capture.arrivals])[: len(rows)]
    kind = Kind(0, times_s, rows, is_cut=True).seen_with(capture.loads)
    assert kind is not None
    one = fit(kind, number, capture.loads, "weight")
    assert one is not None
    return one


def test_a_byte_of_a_check_is_none_of_the_counts_though_the_check_shows_only_in_another_cut():
    with_check = cut(3, Number("integer", 7, 4, "big"))
    assert with_check.scale is None
    assert ends_before_check(cut(1, Number("integer", 9, 3, "big")), with_check)
    # Cut at the constants the check is not seen, and of other bytes there is none.
    assert not ends_before_check(cut(3, Number("integer", 7, 3, "big")), with_check)

    def unchecked(g: float, n: int) -> bytes:
        return checked(g, n)[:-2] + struct.pack(">H", 7919 * n % 65536)

    assert not ends_before_check(cut(1, Number("integer", 9, 3, "big"), unchecked), with_check)


def test_frames_that_nothing_tells_are_read_from_their_end_and_that_is_said():
    """They begin with a counter, and something else stands behind the bytes that end them."""
    rng = random.Random(4)

    def frame(g: float, n: int) -> bytes:
        body = struct.pack("<BhhB", n % 256, rng.randrange(-300, 300), round(10 * g), n % 7)
        return body + b"\x55\xaa" + rng.randbytes(1)

    found = learned(frame, link="serial")
    assert not found.is_sure
    assert found.reasons[0].startswith("Its messages begin with nothing that stays.")
    assert not any("header" in reason for reason in found.reasons)
    frames = b"".join(frame(g, n) for n, g in enumerate((123.4, 300.1, 50.0)))
    assert [g for g in reads(found, frames, link="serial") if g is not None] == pytest.approx([300.1, 50.0])

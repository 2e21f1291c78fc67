"""Where the blocks that arrive begin, and what that says of where frames do."""

from __future__ import annotations

import random
import struct
from dataclasses import replace

import numpy as np

from drivers.learn import Arrival, Capture, learn
from drivers.learn.packets.pauses import where_blocks_begin
from tests.drivers.learn.small import LOADS, captured, reads

LENGTH = 8


def frame(g: float, n: int) -> bytes:
    """Make a weight between two bytes that begin a frame and one that ends it."""
    return b"\xe1\x08" + struct.pack(">iB", round(10 * g), n * 37 % 251) + b"\x7e"


def read_late(capture: Capture) -> Capture:
    """Let the last bytes of frames come with the next one, of six in ten; of the others none is left over."""
    rng, left, arrivals = random.Random(3), b"", []
    for one in capture.arrivals:
        kept = rng.randint(1, LENGTH // 2) if rng.random() < 0.6 else 0
        data = left + one.data
        left = data[len(data) - kept :]
        arrivals.append(Arrival(one.time_s, 0, data[: len(data) - kept]))
    return replace(capture, arrivals=tuple(arrivals))


def test_a_byte_that_comes_with_the_frame_before_ends_that():
    found = learn(read_late(captured(frame, LOADS, 0.05, "serial")))
    assert found.outside is not None
    assert (found.outside.header[0], found.outside.terminator) == (0xE1, b"\x7e")
    whole, without_end = frame(123.4, 5), frame(200.0, 6)[:-1]
    some = reads(found, whole, without_end, frame(300.1, 7), whole, link="serial")
    assert [g for g in some if g is not None] == [123.4, 300.1, 123.4]


def test_blocks_that_begin_anywhere_tell_nothing():
    time_s = np.cumsum(np.random.default_rng(1).random(8000) < 0.1).astype(np.float64)
    assert where_blocks_begin(np.arange(5, 7900, LENGTH), LENGTH, time_s) is None


def test_blocks_that_begin_with_frames_more_often_than_anywhere_else_do():
    is_first = np.random.default_rng(1).random(8000) < 0.1
    is_first[7::LENGTH] |= np.random.default_rng(2).random(1000) < 0.4
    time_s = np.cumsum(is_first).astype(np.float64)
    assert where_blocks_begin(np.arange(5, 7900, LENGTH), LENGTH, time_s) == 2
    assert where_blocks_begin(np.arange(7, 7900, LENGTH), LENGTH, time_s) == 0


def test_a_first_byte_that_a_few_loads_have_inside_as_well_is_enough_behind_pauses():
    """From 102.4 g to 127.9 g the weight's upper byte is a 4 as well, and nowhere else up to a kettle."""

    def short(g: float, n: int) -> bytes:
        return b"\x04" + struct.pack("<h", round(10 * g)) + bytes([n % 160 > 12])

    found = learn(captured(short, (0.0, 20.0, 300.0, 616.0, -31.0), 0.05, "serial"))
    assert found.is_sure, found.reasons
    assert reads(found, *(short(g, 40) for g in (45.6, 300.1)), link="serial") == [45.6, 300.1]

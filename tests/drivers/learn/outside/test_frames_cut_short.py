"""Frames that lose bytes, and go on with the beginning of the next one: those are no other kind."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.outside.framed import Outside
from drivers.learn.outside.picking import places_found
from drivers.learn.packets.framing import ByteStream
from tests.drivers.learn.small import learned, reads


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


def test_frames_that_only_their_end_tells_are_found_by_it_behind_one_that_has_lost_bytes():
    data = np.frombuffer(b"\x01\x02\x9e\x03\x9e\x04\x05\x9e", dtype=np.uint8)
    stream = ByteStream(0, data, np.arange(len(data), dtype=float))
    assert places_found(Outside((), 3, b"\x9e", None), stream).tolist() == [0, 5]

"""Frames that begin with nothing that stays: found where their check is right."""

from __future__ import annotations

import random
import struct
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.packets import PacketDecoder
from drivers.described import described_by
from tests.drivers.decoders.pieces import assert_pieces_agree

BARE = """
name = "bare"
kind = "serial-frames"
[[frame]]
length = {length}
[frame.checksum]
at = {at}
{check}
[[frame.field]]
holds = "weight"
offset = 0
width = 3
order = "big"
unit = "g"
"""

WITH_SUM = BARE.format(length=5, at=4, check='kind = "sum8"')
WITH_CYCLIC = BARE.format(
    length=6, at=4, check='kind = "crc16"\npolynomial = 0x1021\ninit = 0xFFFF\norder = "big"'
)
BOTH = pytest.mark.parametrize("text", [WITH_SUM, WITH_CYCLIC])


def remainder(data: bytes) -> int:
    """Divide by the polynomial bit by bit, as cyclic checks are defined; from memory."""
    register = 0xFFFF
    for byte in data:
        for bit in range(7, -1, -1):
            top = register >> 15 ^ byte >> bit & 1
            register = register << 1 & 0xFFFF ^ 0x1021 * top
    return register


def frame(text: str, grams: int, count: int = 7) -> bytes:
    body = struct.pack(">I", grams)[1:] + bytes([count])
    return body + (bytes([sum(body) % 256]) if text == WITH_SUM else struct.pack(">H", remainder(body)))


def decoder_of(text: str) -> PacketDecoder:
    return PacketDecoder(described_by(text, str(Path("bare.toml"))))


def read(text: str, data: bytes) -> list[float]:
    return [one.value for one in decoder_of(text).decode(data).measurements]


@BOTH
def test_frames_follow_one_another(text):
    stream = b"".join(frame(text, grams) for grams in (0, 150, 71_000))
    decoded = decoder_of(text).decode(stream + stream[:3])
    assert [one.value for one in decoded.measurements] == [0.0, 150.0, 71_000.0]
    assert (decoded.used, decoded.lines, decoded.rejected) == (len(stream), 3, 0)


@BOTH
@pytest.mark.parametrize(
    "damage",
    [
        lambda one: one[:1] + b"\x99" + one[2:],  # changed
        lambda one: one[:1] + one[2:],  # a byte lost
        lambda one: one[:3],  # cut short
        lambda one: b"noise" + one[2:],
    ],
)
def test_a_damaged_frame_costs_no_other_and_is_counted_once(text, damage):
    damaged = damage(frame(text, 2_310))
    decoded = decoder_of(text).decode(
        frame(text, 150, 1) + damaged + frame(text, 340, 2) + frame(text, 512, 3) + frame(text, 77, 4)
    )
    assert [one.value for one in decoded.measurements] == [150.0, 340.0, 512.0, 77.0]
    assert decoded.rejected == 1


def test_a_frame_behind_one_that_changed_waits_for_no_other():
    changed = frame(WITH_SUM, 2_310)[:-1] + b"\x00"
    assert read(WITH_SUM, frame(WITH_SUM, 150) + changed + frame(WITH_SUM, 340)) == [150.0, 340.0]


def test_behind_lost_bytes_a_check_of_one_byte_is_believed_when_the_next_is_right_too():
    begun = frame(WITH_SUM, 150) + frame(WITH_SUM, 2_310)[1:] + frame(WITH_SUM, 340, 9)
    assert read(WITH_SUM, begun) == [150.0]
    assert read(WITH_SUM, begun + frame(WITH_SUM, 512, 9)) == [150.0, 340.0, 512.0]


def test_behind_lost_bytes_a_check_of_two_bytes_is_enough():
    begun = frame(WITH_CYCLIC, 150) + frame(WITH_CYCLIC, 2_310)[1:] + frame(WITH_CYCLIC, 340)
    assert read(WITH_CYCLIC, begun) == [150.0, 340.0]


@BOTH
def test_noise_is_not_kept_and_what_follows_is_read(text):
    noise, kept = random.Random(5).randbytes(5_000), b""
    decoder = decoder_of(text)
    for at in range(0, len(noise), 50):
        kept += noise[at : at + 50]
        kept = kept[decoder.decode(kept).used :]
        assert len(kept) < 400
    assert read(text, kept + frame(text, 1, 8) + frame(text, 2, 9))[-2:] == [1.0, 2.0]


@BOTH
@given(data=st.data())
def test_any_bytes_in_any_pieces_give_the_same(text, data):
    whole = st.builds(frame, st.just(text), st.integers(0, 2**24 - 1), st.integers(0, 255))
    part = st.one_of(
        st.binary(max_size=40),
        whole,
        whole.map(lambda one: one[1:]),
        st.just(bytes(400)),
        st.just(b"\xa5" * 300),
    )
    stream = data.draw(st.lists(part, max_size=6).map(b"".join))
    cuts = data.draw(st.lists(st.integers(0, 900), max_size=6))
    assert_pieces_agree(decoder_of(text), stream, cuts)

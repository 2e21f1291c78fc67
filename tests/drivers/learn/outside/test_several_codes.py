"""A byte that names messages, and is another one while the load changes: all of them are read."""

from __future__ import annotations

import struct

import pytest

from drivers.learn import learn
from drivers.learn.outside.codes import with_codes
from drivers.learn.streams import streams_of
from tests.drivers.learn.small import captured, learned, reads, summed, xor

_MOVING = 9
"""Messages of each load before its weight has come to rest."""


def _is_moving(n: int) -> bool:
    return n % 160 < _MOVING


def _weight(code: int, g: float) -> bytes:
    body = bytes((0x49, code)) + round(10 * g).to_bytes(3, "little", signed=True)
    return body + xor(body)


@pytest.mark.parametrize("link", ["ble", "serial"])
def test_messages_that_move_are_read_though_they_have_a_code_of_their_own(link: str):
    flow = bytes((0x49, 0x90, 3, 0, 0))

    def packet(g: float, n: int) -> bytes:
        if n % 3 == 1:
            return flow + xor(flow)
        return _weight(0x80 if _is_moving(n) else 0x81, g)

    found = learned(packet, link=link)
    assert found.is_sure, found.reasons
    assert reads(found, _weight(0x81, 432.1), link=link) == [pytest.approx(432.1)]
    assert reads(found, _weight(0x80, 321.0), link=link) == [pytest.approx(321.0)]
    assert not any(reads(found, flow + xor(flow), link=link))


def test_a_status_message_is_no_weight_though_another_code_tells_rest_from_moving():
    status = bytes((0x1C, 0x5A, 0, 0, 0))

    def frame(code: int, g: float) -> bytes:
        body = bytes((0x1C, code, 0)) + struct.pack("<h", round(g))
        return body + summed(body)

    def packet(g: float, n: int) -> bytes:
        return frame(0x57 if _is_moving(n) else 0x58, g) + (status + summed(status)) * (n % 66 == 30)

    found = learned(packet, link="serial", noise_g=0.9)
    assert found.is_sure, found.reasons
    for code in (0x57, 0x58):
        assert reads(found, frame(code, 123.0), link="serial") == [pytest.approx(123.0)]
    assert reads(found, status + summed(status), link="serial") == []


def test_a_flag_of_rest_in_front_of_the_number_names_no_kind():
    timer = bytes((0x59, 0x0A, 0x11))

    def packet(g: float, n: int) -> bytes:
        if n % 3 == 1:
            return timer + struct.pack(">HIB", n, 0, 0)
        g += 200.0 * (-0.75) ** (n % 160) * _is_moving(n)  # a hand
        return b"\x59\x0a\x10" + bytes((0x00 if _is_moving(n) else 0x10,)) + weight(g) + b"\x0f\x0a\x00"

    def weight(g: float) -> bytes:
        return round(100 * g).to_bytes(3, "little", signed=True)

    found = learned(packet)
    assert found.is_sure, found.reasons
    for flag in (0x00, 0x10):
        moving = b"\x59\x0a\x10" + bytes((flag,)) + weight(321.05) + b"\x0f\x0a\x00"
        assert reads(found, moving) == [pytest.approx(321.05)]
    assert not any(reads(found, timer + struct.pack(">HIB", 700, 0, 0)))


def test_the_end_of_the_frame_before_is_no_code_of_those_whose_first_byte_is_lost():
    """They are in order else; and a frame that may begin so may begin anywhere."""

    def frame(g: float, n: int) -> bytes:
        body = b"\x00" + struct.pack("<f", 0.5 * round(2 * g)) + bytes([0, 2 - (n % 160 < 9)])
        is_lost = n in (40, 90, 140, 200, 260, 360, 420, 520, 600)
        return (b"" if is_lost else b"\xaa") + bytes([n % 256]) + body + crc8(body) + b"\x0d"

    capture = captured(frame, (0.0, 1033.0, 260.0, 305.0), 0.2, "serial")
    found = learn(capture)
    assert found.choice.best is not None
    assert found.outside is not None
    joined = streams_of(capture)[0].joined
    told = [
        outside.codes for _, outside in with_codes(found.choice.best, found.outside, joined, capture.loads)
    ]
    assert (0, 0x0D) not in [code for codes in told for code in codes]


def crc8(data: bytes) -> bytes:
    """Give the cyclic check of polynomial 07 that begins with ones."""
    rest = 0xFF
    for byte in data:
        rest ^= byte
        for _ in range(8):
            rest = (rest << 1 ^ 0x07 * (rest >> 7)) & 0xFF
    return bytes([rest])

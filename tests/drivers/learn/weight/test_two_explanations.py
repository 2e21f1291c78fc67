"""Two explanations hold for a capture, and one fails later: the likelier is taken, or it is doubted."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor

OUNCE_G = 28.349523125
RISING = (0.0, 56.5, 260.9, 700.0)


def test_a_second_weight_that_has_never_differed_is_not_the_largest_so_far():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BhBh", 0xA7, round(10 * g), n % 256, round(10 * g))

    found = learned(packet, RISING, 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 5)) == [pytest.approx(123.4)]


def test_what_a_sum_has_always_carried_belongs_to_it():
    def frame(g: float, n: int) -> bytes:
        body = struct.pack(">BBBh", 0x01, 0xFF, n % 8, round(10 * g))
        return b"\xeb\x90" + body + struct.pack(">H", sum(body))

    found = learned(frame, (0.0, 38.4, 51.2, 76.8), 0.0, link="serial")
    later = frame(25.5, 3)
    assert found.is_sure, found.reasons
    assert reads(found, later, later, link="serial") == [pytest.approx(25.5)] * 2


def test_a_sum_of_a_single_byte_may_be_an_exclusive_or_and_either_is_read():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBh", 0xB7, 0x00, max(round(g), 0))
        return data + b"\x00" + xor(data[1:])

    found = learned(packet, (0.0, 237.4, 89.2, 142.1), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(259.0, 0), packet(771.0, 0)) == [259.0, 771.0]  # 1 and 3, 3 and 3: bits meet


def test_bytes_by_which_loads_are_far_off_a_line_are_no_rival_of_a_number_that_holds_them():
    """They are anything while the load moves, jump by 30 g at rest, and are 10 g off a line at one load."""

    def packet(g: float, n: int) -> bytes:
        others = 400.0 if 20 < n % 160 < 70 else g + 12.0 * (230.0 < g < 270.0)
        jumps = 7919 * n % 61 - 30
        return struct.pack(">BffB", 0xA7, 4.21 * g, 4.37 * (others + jumps), n % 256)

    found = learned(packet, noise_g=0.05)
    assert found.is_sure, found.reasons
    assert reads(found, packet(700.0, 1)) == [pytest.approx(700.0, abs=0.1)]


def test_a_copy_that_shows_nought_for_a_step_below_it_has_no_sign_for_the_weight():
    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * g)
        data = struct.pack(">BB", 0x63, 0x11) + abs(tenths).to_bytes(3, "big")
        data += struct.pack(">iBB", round(g / OUNCE_G * 10), n % 256, 0x2D if tenths < 0 else 0x2B)
        return data + summed(data)

    found = learned(packet, (0.0, 50.0, 500.0, -214.0), 0.06)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-0.1, 7), packet(-33.3, 8)) == [pytest.approx(-0.1), pytest.approx(-33.3)]


def test_a_pan_that_is_bumped_below_nought_shows_a_sign():
    def packet(g: float, n: int) -> bytes:
        grams = -5.0 if n in (40, 41) else g
        data = struct.pack(
            ">BBHB", 0x27, n % 256, abs(round(10 * grams)), 0x80 if round(10 * grams) < 0 else 0
        )
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-7.5, 9)) == [pytest.approx(-7.5)]


@pytest.mark.parametrize("header", [b"\xdd\xdd\xdd", b"\x01\x05", b"\x7e\x3c"])
def test_a_frame_that_has_turned_sums_up_as_well_and_so_its_whole_beginning_is_taken(header):
    def frame(g: float, n: int) -> bytes:
        data = header + struct.pack(">iBB", round(100 * g), n % 256, 0x2B)
        return data + xor(data)

    found = learned(frame, (0.0, 151.1, 440.5, 220.0), 0.01, link="serial")
    assert found.is_sure, found.reasons
    assert found.description is not None
    assert found.description.frames[0].header[: len(header)] == tuple(header)


def test_text_and_a_copy_of_it_that_lags_are_not_one_number_in_turn():
    slow = [0.0]

    def frame(g: float, n: int) -> bytes:
        slow[0] += (g - slow[0]) * 0.05
        data = b"".join(b"\x02" + f"{round(each):+09d}".replace("+0", "+ ").encode() for each in (g, slow[0]))
        return data + bytes([n % 200, sum(data) % 256]) + b"\r"

    found = learned(frame, (0.0, 50.0, 10.0, 1000.0), 0.0, link="serial")
    later = frame(500.0, 1)
    assert found.is_sure, found.reasons
    assert reads(found, later, later, link="serial") == [500.0, pytest.approx(500.0)]

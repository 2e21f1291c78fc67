"""A pan that was a step below nought once or twice: what shows the sign, and what only looks like one."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor

BELOW = (30, 55, 90)
"""Packets at the empty pan that say a step below nought."""


def step_below(g: float, n: int, below: tuple[int, ...] = BELOW) -> int:
    """Give tenths of a gram, a step below nought now and then."""
    return -1 if n in below else round(10 * max(g, 0.0))


@pytest.mark.parametrize("minus", [0x80, 0x2D])
def test_three_packets_a_step_below_nought_show_a_sign_without_a_check(minus):
    def packet(g: float, n: int) -> bytes:
        steps = step_below(g, n)
        return struct.pack(">BBIB", 0xA7, minus * (steps < 0), abs(steps), n % 256)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BBIB", 0xA7, minus, 123, 7)) == [pytest.approx(-12.3)]


def test_a_single_bit_that_is_set_once_a_step_below_nought_is_a_sign():
    def packet(g: float, n: int) -> bytes:
        steps = step_below(g, n, (40,))
        return struct.pack("<BIB", 0xA7, abs(steps) | 0x80000000 * (steps < 0), 7 * n % 256)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BIB", 0xA7, 123 | 0x80000000, 7)) == [pytest.approx(-12.3)]


@pytest.mark.parametrize("width", [3, 4])
def test_the_top_bit_of_digits_that_is_set_once_a_step_below_nought_is_a_sign(width):
    def packet(g: float, n: int) -> bytes:
        steps = step_below(g, n, (40,))
        digits = abs(steps) + 8 * 10 ** (2 * width - 1) * (steps < 0)
        return b"\xa7" + bytes.fromhex(f"{digits:0{2 * width}d}") + bytes([7 * n % 256])

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(12.3, 7), packet(-0.1, 40)) == [pytest.approx(12.3), pytest.approx(-0.1)]


def test_a_damaged_top_bit_of_digits_that_need_it_for_heavy_loads_is_no_sign():
    def packet(g: float, n: int) -> bytes:
        digits = 8001 if n == 40 else step_below(g, n, ())
        return b"\xa7" + bytes.fromhex(f"{digits:04d}") + bytes([7 * n % 256])

    found = learned(packet, noise_g=0.0)
    assert found.description is not None, found.reasons
    assert reads(found, packet(812.3, 7)) == [pytest.approx(812.3)]


def test_a_flag_anywhere_in_packets_with_a_check_is_a_sign_where_it_comes_below_nought_only():
    def packet(g: float, n: int) -> bytes:
        steps = step_below(g, n, (40, 80))
        flags = 0x11 | 0x40 * (n % 160 > 12) | 0x08 * (steps < 0)
        data = struct.pack("<BHBBB", 0xA7, abs(steps), n % 256, 0x5A, flags)
        return data + xor(data)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    data = struct.pack("<BHBBB", 0xA7, 123, 7, 0x5A, 0x59)
    assert reads(found, data + xor(data)) == [pytest.approx(-12.3)]


def test_a_header_that_is_damaged_at_a_small_load_is_no_sign():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">HB", step_below(g, n, ()), n % 256)
        return bytes([0xA7, 0x7E if n == 600 else 0xFE]) + data + xor(data)

    found = learned(packet, (0.0, 87.4, 640.0, 20.0), 0.0)
    assert found.is_sure, found.reasons
    assert "sign = " not in found.toml


def test_a_packet_damaged_twice_shows_no_sign():
    def packet(g: float, n: int) -> bytes:
        flags = 0x40 | 0x10 * (n % 160 > 12)
        if n == 30:
            return struct.pack(">BBBHB", 0xA7, 0x46, flags ^ 0x40, 1, n % 256)
        return struct.pack(">BBBHB", 0xA7, 0x06, flags, step_below(g, n, ()), n % 256)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert "sign = " not in found.toml


def test_a_damaged_packet_does_not_put_a_sign_among_the_bits_where_one_stands_apart():
    def packet(g: float, n: int) -> bytes:
        steps = round(100 * g)
        data = bytes([0x03, 0x2D if steps < 0 else 0x20]) + abs(steps).to_bytes(4, "little")
        if n == 100:
            data = bytes([0x03, 0x20, 0x01, 0x00, 0x80, 0x00])  # two bits, and the check happens to hold
        return data + bytes([-sum(data) % 256])

    found = learned(packet, (0.0, 20.0, 250.0, 400.0), 0.01)
    assert found.is_sure, found.reasons
    data = bytes([0x03, 0x2D]) + (1234).to_bytes(4, "little")
    assert reads(found, data + bytes([-sum(data) % 256])) == [pytest.approx(-12.34)]


def test_where_a_plus_is_written_beside_digits_a_minus_is_too():
    def packet(g: float, n: int) -> bytes:
        sign = b"-" if g < 0 else b"+"
        return b"\x68\xba\x04" + sign + bytes.fromhex(f"{round(abs(10 * g)):06d}") + b"\x0a"

    found = learned(lambda g, n: packet(abs(g), n), (0.0, 29.1, 740.8, 867.0), 0.02)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-33.9, 1), packet(33.9, 1)) == [-33.9, 33.9]


def test_a_plus_behind_text_is_a_minus_below_nought():
    def packet(g: float, n: int) -> bytes:
        data = b"\x07\x95" + f"{abs(g):08.3f}".encode() + (b"-" if g < 0 else b"+") + bytes([n % 256])
        return data + summed(data)

    found = learned(lambda g, n: packet(max(round(20 * g) / 20, 0.0), n), (1157.16, 0.0, 200.0, 352.3))
    assert found.is_sure, found.reasons
    assert reads(found, packet(-4.9, 3), packet(123.45, 4)) == [-4.9, 123.45]


def test_a_flag_that_comes_and_goes_tells_more_than_one_damaged_packet():
    def packet(g: float, n: int) -> bytes:
        tenths = step_below(g, n, (20, 24, 29, 35, 40, 41, 60, 77, 90))
        data = bytearray(b"\x55" + bytes([n % 256]) + (10 * abs(tenths)).to_bytes(3, "big") + b"\0\0\0")
        data.append(tenths < 0)
        if n == 50:
            data[4:6] = b"\x10\x02"  # in the last byte of the number, and in the one behind it
        return bytes(data)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, b"\x55\x07" + (1230).to_bytes(3, "big") + b"\0\0\0\x01") == [pytest.approx(-12.3)]


def test_a_sign_far_from_the_number_that_is_often_seen_needs_no_check():
    damage = {131: 0x80, 250: 0x08, 300: 0x80, 400: 0xFF, 500: 0x04}

    def packet(g: float, n: int) -> bytes:
        steps = round(10 * (g - 0.05))
        sign = (0xFF if steps < 0 else 0x00) ^ damage.get(n, 0)
        return struct.pack("<BHBHBB", 0xA7, abs(steps), 0x4C, 3 * n, 0x11, sign)

    found = learned(packet, (500.0, 0.0, 100.0, 250.0), 0.03)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BHBHBB", 0xA7, 250, 0x4C, 9, 0x11, 0xFF)) == [-25.0]


def test_a_flag_that_is_there_from_the_first_packet_on_has_come_once_by_then():
    """A clock shows the first packet apart from all others, so that it is in order with none."""

    def packet(g: float, n: int) -> bytes:
        steps = step_below(g, n, (0, 49))
        flags = 0x10 | 0x04 * (n % 160 < 12 and n > 160) | 0x08 * (steps < 0)
        data = struct.pack("<BHBBBB", 0xA7, abs(steps), n % 256, n > 0, 0x5A, flags)
        return data + xor(data)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    data = struct.pack("<BHBBBB", 0xA7, 123, 7, 1, 0x5A, 0x18)
    assert reads(found, data + xor(data)) == [pytest.approx(-12.3)]


@pytest.mark.parametrize("is_damaged", [False, True])
def test_a_knock_shows_a_sign_bit_where_the_rest_of_its_packet_is_in_order(*, is_damaged: bool):
    def packet(g: float, n: int) -> bytes:
        tenths = -281 if n == 110 else round(10 * max(g, 0.0))
        steps = abs(tenths) | 0x8000 * (tenths < 0)
        state = 0x83 if n % 160 < 12 else 0x13
        data = struct.pack("<BHBBB", 0xB7, steps, 7 * n % 256, 0x5A, state ^ 0x31 * (is_damaged and n == 110))
        return data + bytes([-sum(data) % 256])

    found = learned(packet, (0.0, 759.2, 396.7, 192.6), 0.0)
    assert found.description is not None, found.reasons
    data = struct.pack("<BHBBB", 0xB7, 123 | 0x8000, 7, 0x5A, 0x13)
    (read,) = reads(found, data + bytes([-sum(data) % 256]))
    assert (read == pytest.approx(-12.3)) == (not is_damaged)


def test_a_sign_bit_that_damage_has_turned_on_the_way_is_none():
    """Its check is right, as damage has turned the same bit of that."""

    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BHBB", 0xA5, round(g) & 0xFFFF | 0x8000 * (n == 161), 0x00, n % 251)
        return data + xor(data)

    found = learned(packet, (1213.0, 390.0, 0.0, 1000.0), 0.0)
    assert reads(found, packet(-277.0, 9)) == [-277.0]

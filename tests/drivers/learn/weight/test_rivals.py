"""Two readings that agree on nearly all that was heard, of which one alone reads what comes later."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor


def test_a_check_that_begins_with_a_value_of_its_own_covers_a_byte_that_was_left_out():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BBBhB", 0x6A, 0x97, 0x4B ^ 0x80 * (n % 160 < 9), round(10 * g), 0x1B)
        return data + xor(data)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert found.outside is not None and found.outside.check is not None
    assert found.outside.check.is_plain
    data = struct.pack(">BBBhB", 0x6A, 0x97, 0x4B, 1234, 0x1B)
    assert reads(found, data + xor(data), link="serial") == [pytest.approx(123.4)]


def test_a_value_that_changes_once_in_frames_in_order_is_no_header():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BBhiB", 0x05, 0x06, 221 + (n > 600), round(10 * g), n % 256)
        return data + xor(data[1:])

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    data = struct.pack(">BBhiB", 0x05, 0x06, 224, 1234, 9)
    assert reads(found, data + xor(data[1:]), link="serial") == [pytest.approx(123.4)]


def test_a_sum_of_sixteen_bits_may_not_have_come_to_256_yet():
    def packet(g: float, n: int) -> bytes:
        data = b"\x3c" + bytes.fromhex(f"{max(round(10 * g), 0):08d}") + bytes([0x10 * (n % 160 > 9)])
        return data + sum(data[1:]).to_bytes(2, "big")

    found = learned(packet, (0.0, 10.0, 50.0, 20.0), 0.05)
    assert found.is_sure, found.reasons
    data = b"\x3c\x00\x00\x77\x99\x10"
    assert reads(found, data + sum(data[1:]).to_bytes(2, "big")) == [pytest.approx(779.9)]


def test_a_clock_whose_upper_byte_changes_with_the_load_is_no_sign():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BBIH", 0xEB, g < -0.05, abs(round(10 * g)), 0xD8F0 + n)

    found = learned(packet, (0.0, -133.7, 100.0, 900.0), 0.05)
    if found.is_sure:
        assert reads(found, struct.pack(">BBIH", 0xEB, 0, 5, 0xD8F0)) == [pytest.approx(0.5)]


def test_a_sign_goes_with_the_weight_and_not_with_a_copy_that_lags():
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow[0] += (g - slow[0]) * 0.2
        flags = 0x64 | 0x02 * (g < -0.05)
        return struct.pack("<BiIBB", 0x29, round(10 * slow[0]), abs(round(10 * g)), n % 256, flags)

    found = learned(packet, (0.0, 100.0, 500.0, -75.7), 0.05)
    if found.is_sure:
        assert reads(found, struct.pack("<BiIBB", 0x29, 3, 2, 7, 0x66)) == [pytest.approx(-0.2)]


def test_a_copy_in_ounces_of_bare_counts_has_their_sign_not():
    def packet(g: float, n: int) -> bytes:
        counts = round(478.19 * g) + 435 + (1 << 31)
        data = struct.pack("<BiIB", 0x7E, round(g / 28.349523125 * 100), counts, n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 120.0, 250.0, 700.0), 0.2)
    if found.is_sure:
        data = struct.pack("<BiIB", 0x7E, -1, 435 - 48 + (1 << 31), 9)
        assert reads(found, data + summed(data)) == [pytest.approx(-0.1, abs=0.1)]


def test_digits_beside_a_sign_byte_may_go_on_on_the_other_side():
    def packet(g: float, n: int) -> bytes:
        tenths = round(g / 28.349523125 * 10)
        digits = bytes.fromhex(f"{abs(tenths):04d}")[::-1]
        data = bytes([0x02, 0xFF * (tenths < 0)]) + digits + bytes([n % 256])
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 150.3, 200.0), 0.6)
    if found.is_sure:
        data = bytes.fromhex("0200341207")
        assert reads(found, data + summed(data)) == [pytest.approx(123.4 * 28.349523125)]
    else:
        assert found.further_g is not None and found.further_g > 280.0


def test_lines_without_padding_are_read_though_all_loads_had_as_many_digits():
    found = learned(
        lambda g, n: b"ST,%d\r\n" % (round(161.2 * g) - 63430), (0.0, 147.4, 302.0, 1119.2), 0.02, "serial"
    )
    assert found.is_sure, found.reasons
    assert reads(found, b"ST,-40\r\n", link="serial") == [pytest.approx(393.2, abs=0.1)]


def test_padding_before_a_minus_belongs_to_the_number():
    found = learned(lambda g, n: b"w%9.2fG\r\n" % g, (0.0, -277.5, 20.0, 500.0), 0.01, "serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"w  1050.70G\r\n", link="serial") == [pytest.approx(1050.7)]


def test_tenths_that_a_few_loads_have_are_digits_and_not_another_byte():
    def packet(g: float, n: int) -> bytes:
        digits = bytes.fromhex(f"{round(100 * g):06d}")
        return b"\x80" + digits + struct.pack("<I", round(g / 28.349523125 * 1000))

    found = learned(packet, (0.0, 407.2, 421.2, 1083.7), 0.0)
    assert found.is_sure, found.reasons
    data = b"\x80" + bytes.fromhex("012345") + struct.pack("<I", 4354)
    assert reads(found, data) == [pytest.approx(123.45)]


def test_bare_counts_that_are_nearly_fifths_are_not_taken_for_them():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BiB", 0x25, round(499.61 * g), n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 500.0, 225.2, 200.0), 0.002)
    assert not found.is_sure or reads(found, packet(800.0, 1)) == [pytest.approx(800.0, abs=0.1)]

"""Bytes that look like a part of the number, of its sign or of a header, and are none; or are one."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor


def test_a_number_whose_nought_lies_in_the_middle_of_its_range_does_not_wrap_below_it():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BHB", 0xA7, 33_000 + round(30 * g), n % 256)

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BHB", 0xA7, 32_700, 1)) == [pytest.approx(-10.0, abs=0.1)]


def test_a_byte_that_hardly_moves_is_not_taken_for_the_lowest_of_the_number():
    def packet(g: float, n: int) -> bytes:
        moves = n % 160 < 8
        grams = max(round(g), 0)
        return b"\xa7" + bytes.fromhex(f"{grams:04d}") + bytes([moves, n % 256])

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.3)
    if found.is_sure:
        assert reads(found, b"\xa7\x01\x23\x01\x05") == [123.0]


def test_digits_of_which_the_last_hardly_move_at_rest_are_taken_whole():
    def packet(g: float, n: int) -> bytes:
        data = b"\xa7" + bytes.fromhex(f"{max(round(100 * g), 0):08d}") + bytes([n % 256])
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 300.0, 500.0), 0.0)
    assert found.is_sure, found.reasons
    data = b"\xa7" + bytes.fromhex("00012345") + b"\x07"
    assert reads(found, data + summed(data)) == [123.45]


@pytest.mark.parametrize("order", [">", "<"])
def test_upper_bytes_that_no_load_has_needed_tell_no_packets_apart(order):
    def packet(g: float, n: int) -> bytes:
        if n % 5 == 4:
            return struct.pack(f"{order}BiB", 0x02, 0x05050000 + n, 7)
        return struct.pack(f"{order}BiB", 0x01, round(10 * max(g, 0.0)), n % 256)

    found = learned(packet)
    assert found.description is not None, found.reasons
    header = found.description.frames[0].header
    assert header[:1] == (0x01,)
    assert 0x00 not in header
    assert reads(found, struct.pack(f"{order}BiB", 0x01, -123, 3)) == [-12.3]


def test_a_sign_among_flags_is_one_bit_of_them():
    def packet(g: float, n: int) -> bytes:
        steps = round(10 * g)
        flags = 0x08 * (steps < 0) | 0x40 * (n % 160 > 8) | 0x01
        data = struct.pack("<BBIB", 0xA7, flags, abs(steps), n % 256)
        return data + summed(data)

    found = learned(packet, noise_g=0.15)
    assert found.is_sure, found.reasons
    data = struct.pack("<BBIB", 0xA7, 0x09, 77, 3)
    assert reads(found, data + summed(data)) == [-7.7]


def test_messages_of_another_kind_are_told_by_their_byte_though_they_are_as_long():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack(">BBBiB", 0xA5, 0x5A, 0x01, round(10 * g), n % 256)
        other = struct.pack(">BBBiB", 0xA5, 0x5A, 0x02, 100 + n % 3, n % 256)
        return data + xor(data) + (other + xor(other) if n % 6 == 0 else b"")

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    data = struct.pack(">BBBiB", 0xA5, 0x5A, 0x02, 100, 9)
    assert not [value for value in reads(found, data + xor(data), link="serial") if value is not None]


def test_flags_behind_the_first_byte_are_no_part_of_the_header():
    def frame(g: float, n: int) -> bytes:
        data = struct.pack("<BBIB", 0x55, 0x48 if n % 160 > 3 else 0x40, max(round(10 * g), 0), n % 256)
        return data + summed(data)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert found.description is not None
    assert found.description.frames[0].header == (0x55,)


def test_a_byte_that_is_repeated_at_the_beginning_belongs_to_the_header():
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BBBi", 0xEF, 0xEF, 0x08 * (n % 160 < 4), round(1000 * g))

    found = learned(frame, link="serial")
    assert found.description is not None
    assert found.description.frames[0].header[:2] == (0xEF, 0xEF)


@pytest.mark.parametrize("step", [1, 2, 5])
def test_digits_that_are_as_busy_at_rest_as_on_the_way_are_taken_whole(step):
    def packet(g: float, n: int) -> bytes:
        hundredths = step * round(100 * max(g, 0.0) / step)
        return b"\xa7" + bytes(map(int, f"{hundredths:06d}")) + bytes([7 * n % 256])

    found = learned(packet, noise_g=0.7)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.46, 3)) == [pytest.approx(step * round(12346 / step) / 100)]


@pytest.mark.parametrize("behind", [lambda g, n: n % 10, lambda g, n: 7 * n % 10, lambda g, n: n % 160 > 12])
def test_a_counter_or_a_state_behind_digits_is_none_of_them(behind):
    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + bytes(map(int, f"{round(10 * max(g, 0.0)):05d}")) + bytes([behind(g, n), 0x5A])

    found = learned(packet, noise_g=0.7)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 3), packet(0.1, 5)) == [pytest.approx(123.4), pytest.approx(0.1)]


def test_the_digits_of_a_check_are_none_of_the_number():
    def frame(g: float, n: int) -> bytes:
        data = b"\xa5" + f"{max(round(g, 1), 0.0):8.1f}".encode()
        return data + f"{sum(data) % 256:02X}".encode() + b"\r"

    found = learned(frame, (0.0, 123.4, 251.7, 498.9), 0.04, link="serial")
    assert found.is_sure, found.reasons
    data = b"\xa5" + b"   321.5"
    frame_3 = data + f"{sum(data) % 256:02X}".encode() + b"\r"
    assert 321.5 in reads(found, frame_3, frame_3, link="serial")


def test_a_copy_of_the_weight_is_no_check():
    def packet(g: float, n: int) -> bytes:
        steps = max(round(g), 0)
        return struct.pack(">BBHH", 0xA7, 0x10, steps, steps)

    found = learned(packet, (0.0, 20.0, 90.0, 600.0), 0.4)
    assert found.outside is None or found.outside.check is None


def test_a_sign_before_the_blanks_of_a_padded_number_is_read():
    def line(g: float, n: int) -> bytes:
        return f"{n % 1000},{'-' if g < 0 else '+'}{abs(g):8.1f},g\r\n".encode()

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"7,-    12.5,g\r\n", b"1234,+   112.5,g\r\n", link="serial") == [-12.5, 112.5]


def test_a_top_bit_that_stands_alone_belongs_to_the_number():
    def packet(g: float, n: int) -> bytes:
        steps = round(100 * g)
        data = (
            struct.pack(">B", 0xA7) + (abs(steps) | (steps < 0) << 23).to_bytes(3, "big") + bytes([n % 256])
        )
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, -150.0))
    assert found.is_sure, found.reasons
    data = b"\xa7" + (70_000).to_bytes(3, "big") + b"\x01"
    assert reads(found, data + summed(data)) == [700.0]


def test_a_counter_below_bare_counts_is_none_of_their_bytes():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BHhB", 0xA7, 0x0100, round(3.7623 * g), n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 400.0, 150.0, 700.0), 0.0)
    assert found.description is not None, found.reasons
    data = struct.pack(">BHhB", 0xA7, 0x0100, 1505, 200)
    assert reads(found, data + summed(data)) == [pytest.approx(400.0, abs=0.3)]


def test_a_sum_that_has_never_been_carried_is_one_of_a_single_byte():
    def packet(g: float, n: int) -> bytes:
        data = bytes([1, 0, max(round(g / 5), 0), 0])
        return data + sum(data).to_bytes(2, "big")

    found = learned(packet, (0.0, 200.0, 500.0, 900.0), 1.0)
    assert found.outside is not None
    assert found.outside.check is not None
    assert found.outside.check.width == 1


def test_a_number_that_jumps_from_load_to_load_may_be_a_counter():
    def packet(g: float, n: int) -> bytes:
        return struct.pack("<BBBH", 0xA7, 0x40, 0, 0xC1 + n // 160)

    found = learned(packet, (0.0, 250.0, 500.0))
    assert not found.is_sure


def test_a_comma_stands_for_a_point_in_text_of_one_width():
    def packet(g: float, n: int) -> bytes:
        return b"\xb1" + f"{g:+9.2f}".replace(".", ",").encode() + bytes([n % 256])

    found = learned(packet, (0.0, 100.0, 230.4, 500.0))
    assert found.is_sure, found.reasons
    assert reads(found, b"\xb1  +789,01\x05") == [pytest.approx(789.01)]


def test_decimals_behind_a_comma_of_a_line_are_not_left_out_unseen():
    def line(g: float, n: int) -> bytes:
        return f"{g:.2f} g, {n % 7 - 3:.1f} g/s\r\n".replace(".", ",").encode()

    assert not learned(line, link="serial").is_sure


def test_upper_bytes_of_a_coarser_copy_are_no_sign():
    def packet(g: float, n: int) -> bytes:
        hundredths_oz = int(3.5274 * g)
        data = struct.pack("<BHBi", 0x0C, abs(round(10 * g)), n % 200, hundredths_oz)
        data += bytes([0, 0xFF if round(10 * g) < 0 else 0])
        return data + xor(data)

    found = learned(packet, (0.0, 100.0, 200.0, -145.0), 0.02)
    assert found.is_sure, found.reasons
    sent = packet(-0.2, 7)
    assert reads(found, sent) == [-0.2]


def test_what_stands_behind_a_decimal_comma_is_no_number_of_its_own():
    def line(g: float, n: int) -> bytes:
        return f"={g / 1000:8.4f}kg\r\n".replace(".", ",").encode()

    found = learned(line, (0.0, 96.2, 217.0, 281.3), 0.04, link="serial")
    assert found.description is not None, found.reasons
    assert not found.is_sure or reads(found, b"=  1,2345kg\r\n", link="serial") == [pytest.approx(1234.5)]


@pytest.mark.parametrize("step", [1, 5, 10])
def test_two_digits_of_bcd_below_tenths_are_taken_whole(step):
    """Of loads that were typed to a tenth, no more is known."""

    def packet(g: float, n: int) -> bytes:
        thousandths = step * round(1000 * max(g + 0.05 * (g > 100.0), 0.0) / step)
        return b"\xa7" + bytes.fromhex(f"{thousandths:08d}") + bytes([7 * n % 256])

    found = learned(packet, (0.0, 371.8, 865.1, 302.6), 0.05)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.46, 3)) == [pytest.approx(123.51)]


def test_a_counter_in_bcd_behind_tenths_is_none_of_them():
    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + bytes.fromhex(f"{round(10 * max(g, 0.0)):06d}{n % 100:02d}") + bytes([7 * n % 256])

    found = learned(packet)
    assert reads(found, packet(123.4, 3)) == [pytest.approx(123.4)]

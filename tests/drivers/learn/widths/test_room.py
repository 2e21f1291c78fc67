"""How far a number goes: bytes that no load has needed, counts that begin anywhere, bits under flags."""

from __future__ import annotations

import math
import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor

OUNCE_G = 28.349523125
LIGHT = (0.0, 87.4, 150.3, 500.0)


def tenths_oz(g: float) -> int:
    return max(round(10 * g / OUNCE_G), 0)


def test_a_second_byte_stands_where_no_nought_is_left_over():
    def packet(g: float, n: int) -> bytes:
        celsius = 222 + (n // 40) % 3
        return struct.pack("<BHHB", 0xA7, celsius, tenths_oz(g), 0x33)

    found = learned(packet, LIGHT)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BHHB", 0xA7, 222, 300, 0x33)) == [pytest.approx(30 * OUNCE_G)]


def test_three_noughts_behind_a_lone_byte_may_be_above_it_and_not_above_a_charge():
    """A sign byte before the weight that has never been set is one nought, and means nothing but plus."""

    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BBBIBB", 0x7E, 0x13, 0, round(max(g, 0.0)), 12 + (n // 4) % 40, n % 160 > 9)
        return data + bytes([-sum(data) % 256])

    found = learned(packet, (0.0, 87.4, 150.3, 100.0), 0.2)
    sent = struct.pack("<BBBIBB", 0x7E, 0x13, 0, 400, 22, 1)
    assert not found.is_sure or reads(found, sent + bytes([-sum(sent) % 256])) == [pytest.approx(400.0)]


def test_a_second_byte_is_none_of_flags_that_are_set():
    def packet(g: float, n: int) -> bytes:
        return struct.pack("<BBHB", 0xA7, 0x10 * (n % 160 > 12), tenths_oz(g), n % 256)

    found = learned(packet, LIGHT)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BBHB", 0xA7, 0x10, 300, 7)) == [pytest.approx(30 * OUNCE_G)]


def test_the_middle_of_a_range_tells_where_the_upper_bytes_are():
    def packet(g: float, n: int) -> bytes:
        return struct.pack("<BHIB", 0xA7, 0, 0x80000000 + tenths_oz(g), n % 256)

    found = learned(packet, LIGHT)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BHIB", 0xA7, 0, 0x80000000 + 300, 7)) == [pytest.approx(30 * OUNCE_G)]


def test_bare_counts_near_the_end_of_a_signed_range_have_no_sign():
    def packet(g: float, n: int) -> bytes:
        return b"\xa7" + (0x7F422F + round(90.71 * g)).to_bytes(3, "big") + bytes([n % 256])

    found = learned(packet, (0.0, 50.0, 150.3, 312.7))
    assert found.is_sure, found.reasons
    assert reads(found, packet(900.0, 1)) == [pytest.approx(900.0, abs=0.3)]


def test_bare_counts_that_have_no_room_go_on_in_the_byte_above_whatever_it_is():
    def packet(g: float, n: int) -> bytes:
        return b"\x5a\xeb\x5a" + (144_816 + round(189.62 * g)).to_bytes(4, "big") + bytes([n % 256])

    found = learned(packet, (0.0, 100.0, 200.0, 251.6))
    assert found.is_sure, found.reasons
    assert reads(found, packet(900.0, 1)) == [pytest.approx(900.0, abs=0.3)]


def test_damaged_upper_bits_make_no_flags_of_them():
    def packet(g: float, n: int) -> bytes:
        counts = (0x8000 + round(10 * g)) ^ (0x6000 if n % 200 == 150 else 0)
        return struct.pack("<BHB", 0xA7, counts, n % 256)

    found = learned(packet, (0.0, 200.0, 100.0, 50.0), 0.2)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BHB", 0xA7, 0x8000 + 9000, 1)) == [pytest.approx(900.0)]


def test_packets_that_leap_far_below_nought_one_by_one_make_no_flag_of_the_middle_of_a_range():
    def packet(g: float, n: int) -> bytes:
        counts = (0x8000 + round(10 * g)) ^ (0x4000 if n % 80 == 70 else 0)
        return struct.pack("<BHB", 0xA7, counts, 7 * n % 256)

    found = learned(packet, (0.0, 1000.0, 736.3, 207.2), 0.005)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<BHB", 0xA7, 0x8000 + 16835, 1)) == [pytest.approx(1683.5)]


def test_a_byte_that_is_greater_with_heavier_loads_counts_no_decimals():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BBhB", 0xA7, n > 170, round(10 * g), 7 * n % 256)

    found = learned(packet, (0.0, 713.4, 144.9, 760.5), 0.03)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BBhB", 0xA7, 0, 1234, 1)) == [pytest.approx(123.4)]


def test_digits_of_a_display_in_steps_of_a_half_are_its_own():
    def packet(g: float, n: int) -> bytes:
        halves = round(2 * max(g, 0.0)) * 50
        return b"\xa7" + bytes.fromhex(f"{halves:08d}")[::-1] + bytes([n % 256])

    found = learned(packet, (0.0, 200.0, 100.0, 50.0), 0.35)
    assert found.is_sure, found.reasons
    assert reads(found, b"\xa7" + bytes.fromhex("00012350")[::-1] + b"\x01") == [pytest.approx(123.5)]


def test_a_single_byte_goes_on_below_flags_where_those_bits_fill_below_nought():
    def packet(g: float, n: int) -> bytes:
        grams = -1 if n % 160 in (30, 60, 90) and n < 160 else round(g)
        return b"\xaa\x01\x00" + struct.pack("<HB", 0x5000 | grams & 0x0FFF, n % 256)

    found = learned(packet, (0.0, 227.0, 50.0, 251.6), 0.2)
    assert found.is_sure, found.reasons
    sent = b"\xaa\x01\x00" + struct.pack("<HB", 0x5000 | 668, 7)
    assert reads(found, sent) == [pytest.approx(668.0)]


def test_digits_that_move_on_the_way_only_may_be_lower_ones():
    def packet(g: float, n: int) -> bytes:
        twentieths = 5 * round(20 * max(g, 0.0))
        return b"\xeb\x27" + bytes.fromhex(f"{twentieths:06d}")[::-1] + bytes([n % 256])

    found = learned(packet, (0.0, 200.0, 20.0, 50.0), 0.0)
    sent = b"\xeb\x27" + bytes.fromhex("012345")[::-1] + b"\x01"
    assert not found.is_sure or reads(found, sent) == [pytest.approx(123.45)]


def test_a_second_byte_may_be_bits_below_flags_that_stay():
    def packet(g: float, n: int) -> bytes:
        return b"\xaa\x01\x00" + struct.pack("<HBB", 0x5000 | round(max(g, 0.0)), 0, n % 256)

    found = learned(packet, (0.0, 25.0, 50.0, 123.4), 0.2)
    sent = b"\xaa\x01\x00" + struct.pack("<HBB", 0x5000 | 668, 0, 7)
    assert not found.is_sure or reads(found, sent) == [pytest.approx(668.0)]


def test_a_second_byte_that_only_a_swing_has_needed_is_its_own():
    def packet(g: float, n: int) -> bytes:
        since = n - 3 * 160
        swing = 110.0 * math.exp(-0.2 * since) * math.cos(0.6 * since) if since >= 0 else 0.0
        grams = max(round(g + swing), 0)
        data = b"\xef\x55\x00" + struct.pack("<HB", grams, n % 256)
        return data + bytes([sum(data) % 256])

    found = learned(packet, (0.0, 20.0, 50.0, 250.0), 0.2)
    data = b"\xef\x55\x00" + struct.pack("<HB", 500, 7)
    assert not found.is_sure or reads(found, data + bytes([sum(data) % 256])) == [pytest.approx(500.0)]


def test_upper_bytes_belong_to_the_number_whose_lower_ones_go_by_the_load():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BBHI", 0x7E, 0xAE, tenths_oz(g), 10 * tenths_oz(g))

    found = learned(packet, (0.0, 50.0, 312.7, 500.0), 0.8)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BBHI", 0x7E, 0xAE, 300, 3000)) == [pytest.approx(30 * OUNCE_G)]


def test_below_a_sign_in_the_upper_half_of_a_byte_stands_a_digit():
    def packet(g: float, n: int) -> bytes:
        return b"\x02" + bytes.fromhex(f"{int(g < -0.05)}{abs(round(10 * g)):05d}") + bytes([n % 256])

    found = learned(packet, (0.0, 112.0, -50.3, 493.8))
    assert found.is_sure, found.reasons
    assert reads(found, b"\x02\x01\x61\x03\x07", b"\x02\x11\x61\x03\x08") == [1610.3, -1610.3]


def test_counts_of_24_bits_that_begin_in_their_middle_have_room():
    def packet(g: float, n: int) -> bytes:
        counts = (0x802289 + round(749.15 * g)).to_bytes(3, "big")
        return b"\x5a" + struct.pack("<i", tenths_oz(g) if g > 0 else round(10 * g / OUNCE_G)) + counts

    found = learned(packet, (0.0, 20.0, 87.4, 500.0))
    assert reads(found, packet(-90.0, 1)) == [pytest.approx(-90.0, abs=0.1)]


def test_below_a_mark_in_the_upper_half_of_a_byte_stands_a_digit():
    def frame(g: float, n: int) -> bytes:
        return b"\x02" + bytes.fromhex(f"c{max(round(10 * g), 0):05d}") + b"\x03"

    found = learned(frame, (0.0, 280.5, 332.0), link="serial")
    sent = b"\x02\xc1\x51\x61\x03"
    assert found.description is not None, found.reasons
    assert reads(found, sent, sent, link="serial") == [1516.1] * 2


def test_counts_that_begin_below_nought_have_room_and_take_in_no_byte_that_stays():
    def packet(g: float, n: int) -> bytes:
        counts = -1_483_531 + round(2063.9 * g)
        return b"\x92\x39" + counts.to_bytes(3, "big", signed=True) + bytes([n % 256])

    found = learned(packet, (0.0, 393.9, 495.1), 0.03)
    assert reads(found, packet(970.0, 1)) == [pytest.approx(970.0, abs=0.1)]


@pytest.mark.parametrize(
    ("loads", "is_sure"),
    [
        pytest.param((0.0, 347.9, 909.5, 1000.0), False, id="never below nought"),
        pytest.param((0.0, 347.9, 909.5, 1950.0), True, id="beyond the half of its range"),
        pytest.param((0.0, 347.9, 909.5, -120.0), True, id="below nought"),
    ],
)
def test_a_highest_bit_that_nothing_has_shown_may_be_a_sign(loads: tuple[float, ...], is_sure: bool):
    lowest = -32_768 if min(loads) < 0.0 else 0

    def packet(g: float, n: int) -> bytes:
        counts = max(round(g / 0.048658), lowest)
        data = b"\x6c\x08" + (counts % 65_536).to_bytes(2, "little") + b"\x17\x4e" + bytes([n % 256])
        return data + xor(data)

    found = learned(packet, loads, 0.02)
    assert found.is_sure == is_sure, found.reasons
    if is_sure and lowest == 0:
        assert reads(found, packet(2500.0, 3)) == [pytest.approx(2500.0, abs=0.2)]


def test_a_few_damaged_packets_do_not_hide_the_digits_below_a_sign_bit():
    def packet(g: float, n: int) -> bytes:
        lifted_g = -150.0 if 10 <= n % 160 < 14 else 0.0
        number = round(62.268 * (g + lifted_g))
        upper = abs(number) >> 16 | 0x80 * (number < 0) | 0x10 * (n == 333)
        return b"\x40" + struct.pack("<HHBB", 17 * n % 65536, abs(number) & 0xFFFF, upper, 77)

    found = learned(packet, (0.0, 200.0, 900.0, 236.7))
    assert found.is_sure, found.reasons
    assert reads(found, packet(1910.1, 20), packet(-80.0, 21)) == [
        pytest.approx(1910.1, abs=0.1), pytest.approx(-80.0, abs=0.1)
    ]  # fmt: skip


def test_a_byte_that_stays_nought_is_taken_where_two_have_room_for_little_more_than_a_kettle():
    def packet(g: float, n: int) -> bytes:
        counts = max(round(10 * g), 0)
        data = b"\x5a\xaa" + counts.to_bytes(3, "big") + struct.pack("<I", 2 * n)
        return data + xor(data)

    found = learned(packet, (0.0, 20.0, 324.8, 1412.5), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(4302.0, 3)) == [4302.0]


def test_a_byte_that_stays_nought_is_left_to_another_number_where_there_is_plenty_of_room():
    """The uppermost one of a copy stands before the weight, low byte first."""

    def packet(g: float, n: int, copy: int = 0) -> bytes:
        counts = max(round(1000 * g / OUNCE_G), 0)
        data = b"\x41" + bytes([n * 7 % 256, n * 31 % 256, copy]) + counts.to_bytes(3, "big") + b"\xdd\x81"
        return data + xor(data)

    found = learned(packet, (0.0, 261.4, 714.6, 1000.0), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.0, 3, copy=1)) == [pytest.approx(123.0, abs=0.02)]


def test_upper_bytes_that_are_filled_below_nought_belong_to_the_number_though_two_are_damaged_alike():
    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * g) - 3 * (n % 160 < 20 and n < 160)
        data = bytearray(b"\x02" + tenths.to_bytes(4, "big", signed=True) + bytes([7 * n % 256]))
        if n in (100, 500):
            data[2] ^= 0x02
        return bytes(data)

    found = learned(packet, noise_g=0.1)
    assert found.is_sure, found.reasons
    heavy = b"\x02" + (43_210).to_bytes(4, "big") + b"\x11"
    assert reads(found, heavy) == [pytest.approx(4321.0)]


def test_a_nought_above_that_damage_has_made_a_sign_once_is_none_of_the_number():
    """A slow copy ends in it, and is filled with ones there once it is below nought."""

    def packet(g: float, n: int) -> bytes:
        top = 0x80 if n == 400 else 0x00
        return struct.pack("<BHB", 0x5A, 250 + n // 100, top) + round(10 * max(g, 0.0)).to_bytes(3, "big")

    found = learned(packet, (0.0, 123.0, 400.0, 1000.0))
    later = struct.pack("<BHB", 0x5A, 250, 0xFF) + (1234).to_bytes(3, "big")
    assert reads(found, later) == [pytest.approx(123.4)]


def test_counts_that_end_a_little_below_nought_ask_for_a_vessel_lifted_off():
    def packet(g: float, n: int) -> bytes:
        data = bytes([0xA7, n % 251]) + (6311 + round(38.786 * g)).to_bytes(2, "big") + bytes([n * 7 % 256])
        return data + xor(data)

    found = learned(packet, (0.0, 1373.9, 267.6, 100.0), 0.02)
    assert found.reasons == ("It ends 163 g below zero, which a vessel that is lifted off goes beyond.",)
    assert found.further_g == -300.0


def test_a_nought_between_a_weight_with_room_and_a_temperature_is_none_of_the_weight():
    """It is the temperature's upper byte as well, which is one from 25.6 °C on."""

    def packet(g: float, n: int, tenths: int = 250) -> bytes:
        return b"\xa4\x01" + struct.pack("<H", max(round(10 * g), 0)) + struct.pack(">HB", tenths, 0x6C)

    found = learned(lambda g, n: packet(g, n, 250 - n // 100), (0.0, 100.0, 200.0, 500.0), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 1), packet(123.4, 1, 265)) == [pytest.approx(123.4)] * 2


def test_whole_bytes_with_two_bits_below_that_never_change_may_go_on_below_flags():
    """Eighteen bits of a word of 24, of which the loads have needed sixteen."""

    def packet(g: float, n: int) -> bytes:
        word = round(10 * max(g, 0.0)) << 2 | 0x0D0000 | 0x800000 * (n % 160 > 9)
        data = b"\xeb\x55" + bytes([n % 251]) + word.to_bytes(3, "little")
        return data + summed(data)

    found = learned(packet, (0.0, 50.0, 500.0, 1000.0), 0.0)
    assert not found.is_sure
    assert any("lowest bits" in reason for reason in found.reasons), found.reasons


def test_a_byte_is_enough_for_steps_of_ten_grams_and_what_stands_beside_it_may_be_flags():
    """They are set below nought, or by too heavy a load; a second byte of the weight is filled there."""

    def packet(g: float, n: int) -> bytes:
        return struct.pack("<BBBhB", 0xA4, 0x04, n % 251, round(g / 10.0), 0x33)

    loads = (0.0, 200.0, 500.0, 890.0)
    found = learned(packet, loads, 1.0)
    assert not found.is_sure
    assert found.further_g is not None
    assert found.further_g < 0.0
    found = learned(packet, (*loads, -200.0), 1.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-150.0, 7), packet(3000.0, 8)) == [-150.0, 3000.0]

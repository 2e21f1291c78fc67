"""Bytes above a number that no load has needed, and what below nought shows of them."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed


def test_counts_that_go_on_from_a_vessel_are_as_wide_as_they_show_below_nought():
    """Grams before the tare: nought is anywhere, and a vessel that is lifted off goes far below it."""

    def packet(g: float, n: int) -> bytes:
        data = b"\xa7\x5c" + bytes([n % 256]) + (round(10 * g) + 1614).to_bytes(3, "big", signed=True)
        return data + summed(data)

    found = learned(packet, (0.0, 313.4, -300.0, 875.4), 0.02)
    assert found.is_sure, found.reasons
    assert reads(found, packet(3398.0, 9), packet(-250.0, 9)) == [3398.0, -250.0]


def test_a_byte_that_is_filled_at_all_noughts_from_below_is_a_number_s_own_though_damage_has_turned_it():
    def packet(g: float, n: int) -> bytes:
        grams = -0.1 if n < 160 and n % 10 == 5 else g
        upper = {170: 0x08, 410: 0x04, 560: 0x08}.get(n)
        data = struct.pack(">i", round(10 * grams))
        return (data if upper is None else data[:1] + bytes([upper]) + data[2:]) + bytes(
            [2 + 8 * (n % 160 > 9)]
        )

    found = learned(packet, (0.0, 50.0, 100.0, 200.0), 0.0)
    assert reads(found, packet(4205.1, 9), packet(-250.0, 9)) == [4205.1, -250.0]


def test_an_upper_word_that_no_load_has_needed_is_asked_for_though_the_sign_stands_apart():
    def packet(g: float, n: int) -> bytes:
        steps = round(35.27396195 * g)
        flags = 0x40 | 0x08 * (steps < 0)
        upper, lower = divmod(abs(steps), 1 << 16)
        data = bytes([0xA7, 0x5C, n % 256, flags]) + struct.pack("<HH", upper, lower)
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, -60.0, 500.0), 0.0)
    assert not found.is_sure
    assert any("two bytes beside it" in reason for reason in found.reasons), found.reasons
    assert found.further_g is not None
    assert found.further_g > 1858.0


def test_a_nought_above_a_word_is_its_own_where_a_counter_behind_it_has_begun_again_without_it():
    def packet(g: float, n: int) -> bytes:
        data = bytes([0xA5, n % 256]) + round(10 * g).to_bytes(3, "big", signed=True) + b"\x31"
        return data + summed(data)

    found = learned(packet, (200.0, 295.7, 20.0, 1177.0), 0.02)
    assert found.is_sure, found.reasons
    assert reads(found, packet(4205.1, 9)) == [4205.1]


def test_digits_go_on_below_a_minus_that_noughts_alone_have_shown():
    def packet(g: float, n: int) -> bytes:
        minus = b"\xf0" if n < 120 and n % 9 == 4 else b"\x00"
        tenths = bytes.fromhex(f"{round(10 * g):06d}")
        return b"\xa5\x55" + bytes([n % 251, 0x08, minus[0] | tenths[0]]) + tenths[1:] + b"\x79"

    found = learned(packet, (0.0, 50.0, 100.0, 20.0), 0.0)
    assert reads(found, packet(1061.7, 9)) == [1061.7]


def test_a_byte_above_that_is_the_same_each_time_below_nought_is_a_sign():
    def packet(g: float, n: int) -> bytes:
        steps = -1 if n < 160 and n % 43 == 5 else round(35.27396195 * g)
        data = struct.pack("<BBHB", 0xC7, n % 251, abs(steps), steps < 0) + b"\x64\xb1"
        return data + summed(data)

    found = learned(packet, (0.0, 50.0, 316.4, 761.3), 0.0)
    assert found.choice.best is not None
    assert found.choice.best.number.width == 2
    assert reads(found, packet(-157.7, 9)) == [pytest.approx(-157.7, abs=0.02)]

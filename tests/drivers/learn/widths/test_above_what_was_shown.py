"""Bytes above a number that no load has needed, and what below nought shows of them."""

from __future__ import annotations

import struct

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

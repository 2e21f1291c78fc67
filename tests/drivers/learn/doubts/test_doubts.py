"""What makes it unsure, and what it then asks for: small instruments with one awkward thing each."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed, xor


def tenths(weight_g: float, n: int) -> bytes:
    return struct.pack(">BhB", 0xA7, round(10 * weight_g), n % 256)


def test_a_plain_instrument_is_sure_and_says_why():
    found = learned(tenths)
    assert found.is_sure, found.reasons
    assert "4 loads lie on one straight line" in found.reasons[0]
    assert found.further_g is None


def test_loads_that_leave_the_next_byte_unneeded_ask_for_a_heavy_one():
    found = learned(lambda g, n: bytes([0xA7, 0, round(max(g, 0.0)), 0, n % 256]), (0.0, 20.0, 50.0, 90.0))
    assert not found.is_sure
    assert "either side" in " ".join(found.reasons)
    assert found.further_g is not None
    assert found.further_g > 250.0


def test_loads_a_few_steps_apart_are_too_near():
    found = learned(tenths, (0.0, 0.4, 0.8, 1.2), 0.01)
    assert not found.is_sure


def test_a_byte_that_counts_decimals_all_the_while_is_doubted():
    found = learned(
        lambda g, n: struct.pack(">BhBB", 0xA7, round(100 * g), 2, n % 256), (0.0, 20.0, 50.0, 90.0)
    )
    assert not found.is_sure
    assert "decimals" in " ".join(found.reasons)
    assert found.further_g is not None
    assert found.further_g > 300.0


def test_a_sign_byte_seen_once_without_a_check_is_doubted_or_right():
    def packet(g: float, n: int) -> bytes:
        steps = -7 if n in (40, 90) else abs(round(10 * g))
        return struct.pack(">BBHB", 0xA7, steps < 0, abs(steps), n % 256)

    found = learned(packet, noise_g=0.0)
    assert not found.is_sure or "sign = " in found.toml
    assert found.is_sure or (found.further_g or 0.0) < 0.0


def test_a_load_below_nought_shows_a_sign_that_stands_apart():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BBHB", 0xA7, 0x2D if g < 0 else 0x2B, abs(round(10 * g)), n % 256)

    found = learned(packet, (0.0, 100.0, -250.0, 400.0))
    assert found.is_sure, found.reasons
    assert "negative = 0x2D" in found.toml


@pytest.mark.parametrize("typed", [(0.0, 3.527, 8.818, 17.637)])
def test_loads_in_ounces_are_told(typed):
    found = learned(lambda g, n: tenths(g * 28.349523125, n), typed, 0.001)
    assert not found.is_sure
    assert "ounces" in " ".join(found.reasons)


def test_a_check_that_cannot_be_worked_out_is_doubted():
    def packet(g: float, n: int) -> bytes:
        body = struct.pack(">Bh", 0xA7, round(g))
        return body + bytes([(7 * sum(body) * (1 + sum(body)) >> 3) % 251])  # no check that anybody uses

    found = learned(packet, (0.0, 101.0, 250.0, 463.0, 512.0), 0.0)
    assert not found.is_sure
    assert "look like a check" in " ".join(found.reasons)


def test_lines_that_may_become_longer_are_doubted():
    def line(g: float, n: int) -> bytes:
        return b"%d;W%06X;g\r\n" % (200 + n % 700, round(10 * max(g, 0.0)))

    found = learned(line, link="serial")
    assert not found.is_sure
    assert "more digits" in " ".join(found.reasons)


def test_two_copies_of_which_one_lags_a_little_are_doubted_or_the_prompt_one_is_read():
    shown = [0.0]

    def packet(g: float, n: int) -> bytes:
        shown[0] += 0.9 * (g - shown[0])
        return struct.pack(">BhhB", 0xA7, round(10 * shown[0]), round(10 * g), n % 256)

    found = learned(packet, noise_g=0.0)
    assert not found.is_sure or reads(found, struct.pack(">BhhB", 0xA7, 0, 500, 1)) == [50.0]


def test_a_bit_far_from_the_number_that_may_be_its_sign_is_doubted():
    def packet(g: float, n: int) -> bytes:
        steps = -4 if n in (40, 41, 90, 120) else abs(round(10 * g))
        return struct.pack(">BBBHB", 0xA7, 0x20 * (steps < 0), 0x5A, abs(steps), n % 256)

    found = learned(packet, noise_g=0.0)
    assert not found.is_sure or "sign = " in found.toml


def test_lines_that_the_pattern_leaves_out_and_that_hold_the_load_are_told():
    def line(g: float, n: int) -> bytes:
        return b"ST%s%.1f g\r\n" % (b" " if n % 11 else b"/", g)

    found = learned(line, link="serial")
    assert not found.is_sure
    assert any("are not read" in reason for reason in found.reasons)


def test_a_state_that_is_absent_before_a_number_is_not_read_as_its_minus():
    def line(g: float, n: int) -> bytes:
        return b"$%s\t%s%6.1f g\r\n" % (b"?" if n % 160 < 12 else b"", b"-" if g < -0.05 else b"+", abs(g))

    found = learned(line, link="serial")
    if found.is_sure:
        assert reads(found, b"$\t-  12.3 g\r\n", b"$?\t+  45.6 g\r\n", link="serial") == [-12.3, 45.6]


def test_an_empty_pan_between_two_loads_is_not_far_from_all_loads():
    def packet(g: float, n: int) -> bytes:
        data = tenths(0.0 if n % 160 < 25 else g, n)
        return data + bytes([sum(data) % 256])

    found = learned(packet, (283.0, 248.9, 200.0, 143.8))
    assert found.is_sure, found.reasons


def test_what_has_never_fallen_may_be_the_largest_weight_so_far():
    largest = [0]

    def packet(g: float, n: int) -> bytes:
        largest[0] = max(largest[0], round(10 * g))
        return struct.pack(">iBh", round(157.3 * g), n % 256, largest[0])

    rising = learned(packet, (0.0, 56.5, 260.9, 700.0), 0.0)
    assert not rising.is_sure
    assert rising.further_g == 280.0


def test_ounces_that_tell_more_than_the_grams_beside_them_are_not_worked_out_from_those():
    def packet(g: float, n: int) -> bytes:
        return struct.pack(">BhhB", 0xA7, round(1000 * g / 28.349523125), round(10 * g), n % 256)

    found = learned(packet, (0.0, 56.5, 260.9, 697.0), 0.03)
    assert not found.is_sure
    assert any("finer steps" in reason for reason in found.reasons)


def test_four_digits_that_are_always_nought_may_be_none_of_the_number():
    def packet(g: float, n: int) -> bytes:
        grams = bytes.fromhex(f"{max(round(g), 0):04d}")[::-1]
        return b"\xeb\x90" + grams + b"\x00\x00" + bytes([n % 256])

    found = learned(packet, (0.0, 100.0, 200.0, 300.0), 0.1)
    assert not found.is_sure or reads(found, b"\xeb\x90\x23\x01\x00\x00\x07") == [123.0]


def test_what_falls_by_round_steps_as_the_load_grows_may_be_a_check_of_the_number():
    found = learned(lambda g, n: struct.pack(">BhB", 0xA7, -round(10 * g), n % 256))
    assert not found.is_sure
    assert any("falls as the load grows" in reason for reason in found.reasons)


def test_a_check_of_other_bytes_than_the_weight_s_is_one_that_is_understood():
    def packet(g: float, n: int) -> bytes:
        others = bytes([n // 8 % 256, (n // 24 + 40) % 256, n // 96])
        return b"\x59" + round(10 * g).to_bytes(3, "big", signed=True) + others + summed(others)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 1)) == [pytest.approx(123.4)]


def test_a_largest_weight_so_far_keeps_to_the_order_of_bytes_of_the_weight():
    def packet(g: float, n: int) -> bytes:
        ounces = round(1000 * g / 28.349523125)
        data = ounces.to_bytes(2, "little") + b"\x01" + ounces.to_bytes(3, "big", signed=True)
        return data + bytes([n % 256]) + summed(data + bytes([n % 256]))

    found = learned(packet, (0.0, 151.3, 395.7, 1001.0), 0.0)
    assert found.is_sure, found.reasons


def test_a_highest_bit_that_may_be_a_sign_asks_for_a_load_below_zero():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BhB", 0xA7, round(20 * g), n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 150.5, 401.3, 620.0), 0.0)
    assert not found.is_sure
    assert "highest bit" in found.reasons[0]
    assert found.further_g == -310.0
    below = learned(packet, (0.0, 150.5, 401.3, 620.0, -310.0), 0.0)
    assert below.is_sure, below.reasons
    assert reads(below, packet(-123.4, 1)) == [pytest.approx(-123.4)]


def test_what_shows_nought_below_zero_without_noise_asks_for_a_heavy_load_about_its_highest_bit():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BHB", 0xA7, max(round(20 * g), 0), n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 150.5, 401.3, 620.0, -310.0), noise_g=0.0)
    assert not found.is_sure
    assert not found.mistakes
    assert found.reasons[-1] == "For loads below zero it shows 0."
    assert found.further_g == 1967.0
    heavy = learned(packet, (0.0, 150.5, 401.3, 620.0, -310.0, 1967.0), noise_g=0.0)
    assert heavy.is_sure, heavy.reasons
    assert reads(heavy, packet(3000.0, 1)) == [pytest.approx(3000.0)]


def test_digits_that_round_loads_do_not_need_are_its_own_where_the_way_has_them():
    """Without them it would go in steps of 10 g."""
    loads = (0.0, 100.0, 50.0, 500.0)

    def packet(g: float, n: int) -> bytes:
        shown_g = g if n % 160 < 4 else loads[n // 160 % 4]
        data = b"\xa0" + bytes.fromhex(f"{max(round(10 * shown_g), 0):06d}") + bytes([n % 256])
        return data + xor(data)

    found = learned(packet, loads, 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 1)) == [pytest.approx(123.4)]

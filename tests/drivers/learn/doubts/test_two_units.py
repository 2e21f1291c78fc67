"""A weight that is sent twice, in two units: whether one of them is worked out from the other."""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest

from drivers.learn import learn
from tests.drivers.learn.small import LOADS, captured, heard_together, learned, reads, summed, xor

OUNCE_G = 28.349523125


def both(grams: int, ounces: int, n: int) -> bytes:
    """A frame with a weight in two units, a counter and a check."""
    data = struct.pack("<BhiB", 0xA5, grams, ounces, n % 256)
    return data + xor(data)


@pytest.mark.parametrize("division", [1.0, 0.5])
def test_grams_of_a_division_are_what_is_shown_beside_finer_ounces(division: float):
    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * division) * round(g / division)
        return both(tenths, round(100 * g / OUNCE_G), n)

    found = learned(packet, noise_g=0.8)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.3, 7)) == [pytest.approx(round(123.3 / division) * division)]


def test_tenths_and_ounces_that_are_rounded_by_themselves_leave_open_which_is_shown():
    def packet(g: float, n: int) -> bytes:
        return both(round(10 * g), round(1000 * g / OUNCE_G), n)

    found = learned(packet, noise_g=0.3)
    assert not found.is_sure
    assert any("which of the two is shown" in reason for reason in found.reasons)


def test_grams_in_twos_are_a_display_s_though_thousandths_of_an_ounce_tell_far_more():
    def packet(g: float, n: int) -> bytes:
        return both(2 * round(5 * g), round(1000 * g / OUNCE_G), n)

    found = learned(packet, noise_g=0.4)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.47, 7)) == [pytest.approx(123.4)]


def test_finer_ounces_are_right_to_a_step_of_the_whole_grams_beside_them_and_pounds():
    """Which of them is shown is not known, and makes no difference."""

    def packet(g: float, n: int) -> bytes:
        ounces = g / OUNCE_G
        data = struct.pack(
            ">BhBhBh", 0xA5, round(g), n % 256, round(100 * ounces), 0x2F, round(1000 * ounces / 16)
        )
        return data + xor(data)

    found = learned(packet, noise_g=0.8)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.5, 7)) == [pytest.approx(123.5, abs=0.15)]


def test_grams_without_a_sign_are_doubted_where_the_ounces_beside_them_go_below_nought():
    def packet(g: float, n: int) -> bytes:
        g -= 3.0 * (n in (40, 41, 90, 91))
        data = struct.pack("<BhBH", 0xA5, round(100 * g / OUNCE_G), 0x11, 10 * abs(round(g)))
        return data + xor(data)

    found = learned(packet, (0.0, 500.0, 1000.0, 300.0), noise_g=0.3)
    assert not found.is_sure
    assert any("sign is missing" in reason for reason in found.reasons)
    assert found.further_g is not None
    assert found.further_g < 0.0


def test_finer_ounces_are_right_to_a_step_of_the_whole_grams_in_the_same_packets():
    """In single counts those are no display's division; which of the two is shown makes no difference."""

    def packet(g: float, n: int) -> bytes:
        return both(round(g), round(100 * g / OUNCE_G), n)

    found = learned(packet, noise_g=0.8)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.4, abs=0.15)]


def test_ounces_that_coarse_grams_are_worked_out_from_are_read():
    def packet(g: float, n: int) -> bytes:
        ounces = round(100 * g / OUNCE_G)
        return both(round(0.01 * ounces * OUNCE_G), ounces, n)

    found = learned(packet, noise_g=0.8)
    assert reads(found, packet(123.4, 7)) == [pytest.approx(4.35 * OUNCE_G)]


def test_ounces_that_are_coarser_than_the_grams_beside_them_are_the_copy():
    def packet(g: float, n: int) -> bytes:
        return both(round(g), round(10 * g / OUNCE_G), n)

    found = learned(packet, noise_g=0.4)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.0, 7)) == [pytest.approx(123.0)]


def test_ounces_worked_out_from_the_grams_that_are_shown_leave_nothing_open():
    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * g)
        return both(tenths, round(10 * tenths / OUNCE_G / 10), n)

    found = learned(packet, noise_g=0.4)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.4)]


def test_finer_ounces_are_right_to_a_step_of_the_whole_grams_of_another_characteristic():
    """Packet by packet, they would tell whether one is worked out from the other."""
    ounces = captured(
        lambda g, n: struct.pack("<BiB", 0xA5, round(100 * g / OUNCE_G), n % 256), LOADS, 0.4, "ble"
    )
    grams = captured(lambda g, n: struct.pack("<Bhh", 0x5A, 0x1F0, round(g)), LOADS, 0.4, "ble")
    found = learn(heard_together(ounces, grams))
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.kind.stream == 0


def test_ounces_that_go_in_no_steps_leave_open_what_is_shown_beside_tenths_of_a_gram():
    """A display goes in steps; what is finer has a noise of its own besides, of more than half of those."""
    ounces = captured(lambda g, n: struct.pack("<Bf", 0xA5, g / OUNCE_G), LOADS, 0.1, "ble")
    grams = captured(lambda g, n: struct.pack("<Bhh", 0x5A, 0x1F0, round(10 * g)), LOADS, 0.1, "ble")
    found = learn(heard_together(ounces, grams))
    assert found.choice.best is not None
    assert not found.is_sure or found.choice.best.kind.stream == 1


def test_whole_grams_that_come_half_as_often_as_the_ounces_elsewhere_leave_nothing_open():
    def ounces(g: float, n: int) -> bytes:
        return struct.pack("<BiB", 0xA5, round(100 * g / OUNCE_G), n % 256)

    grams = captured(lambda g, n: struct.pack("<Bhh", 0x5A, 0x1F0, round(g)), LOADS, 0.4, "ble")
    some = tuple(each for n, each in enumerate(grams.arrivals) if n % 2 == 0 or n % 10 == 1)
    found = learn(heard_together(captured(ounces, LOADS, 0.4, "ble"), replace(grams, arrivals=some)))
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.kind.stream == 0


def test_counts_of_a_converter_are_not_what_is_shown_where_another_characteristic_sends_grams_later():
    slow = [0.0]

    def shown(g: float, n: int) -> bytes:
        slow[0] += (g - slow[0]) * 0.08
        data = struct.pack("<Bi", 0x5A, round(10 * slow[0]))
        return data + summed(data)

    counts = captured(lambda g, n: (84223 + round(431.7 * g)).to_bytes(3, "big"), LOADS, 0.02, "ble")
    found = learn(heard_together(counts, captured(shown, LOADS, 0.02, "ble")))
    assert found.choice.best is not None
    assert not found.is_sure or found.choice.best.scale is not None


def test_ounces_in_ten_thousandths_are_read_though_grams_with_a_noise_of_their_own_stand_beside_them():
    def packet(g: float, n: int) -> bytes:
        whole = round(g + 0.4 * (7 * n % 3 - 1))
        return both(whole, round(10000 * g / OUNCE_G), n)

    found = learned(packet, (0.0, 137.3, 352.6, 811.4), noise_g=0.02)
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.4, abs=0.002)]


def test_ounces_in_twos_are_what_is_shown_beside_whole_grams():
    def packet(g: float, n: int) -> bytes:
        return both(10 * round(g), 20 * round(50 * g / OUNCE_G), n)

    found = learned(packet, noise_g=0.6)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.3, 7)) == [pytest.approx(2 * round(50 * 123.3 / OUNCE_G) * OUNCE_G / 100)]


def test_a_float_on_the_steps_of_the_grams_beside_it_leaves_nothing_open():
    def packet(g: float, n: int) -> bytes:
        kilograms = struct.pack(">Bf", n % 251, round(g + 0.002, 2) / 1000)
        data = b"\x02\x99\xaa" + f"{g:8.2f}".encode() + kilograms
        return data + xor(data)

    found = learned(packet, noise_g=0.01)
    assert found.is_sure, found.reasons


def test_kilograms_and_ounces_in_floats_with_a_noise_of_their_own_leave_nothing_open():
    def packet(g: float, n: int) -> bytes:
        own = 0.02 * (7919 * n % 5 - 2)
        data = struct.pack(">Bff", 0xA5, g / 1000, (g + own) / OUNCE_G)
        return data + xor(data)

    found = learned(packet, noise_g=0.03)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.4, abs=0.05)]


def test_ounces_that_come_far_more_often_than_grams_about_as_fine_are_read():
    def ounces(g: float, n: int) -> bytes:
        data = struct.pack(">BhB", 0xC5, round(100 * g / OUNCE_G), n % 256)
        return data + xor(data)

    def grams(g: float, n: int) -> bytes:
        data = struct.pack(">BBh", 0x02, n % 251, 2 * round(5 * g))
        return data + xor(data)

    seldom = captured(grams, LOADS, 0.05, "ble")
    seldom = replace(seldom, arrivals=seldom.arrivals[::4])
    found = learn(heard_together(captured(ounces, LOADS, 0.05, "ble"), seldom))
    assert found.choice.best is not None
    assert found.choice.best.kind.stream == 0


def test_grams_whose_sign_stands_apart_are_read_beside_coarser_ounces():
    """Until the sign is found, the packets below nought make no sense."""

    def packet(g: float, n: int) -> bytes:
        g = -90.0 if 0 < n % 160 < 20 else g
        ounces, grams = max(round(10 * g / OUNCE_G), 0), round(abs(g))
        data = bytes.fromhex(f"fe25{ounces:04d}4e{8000 * (g < -0.5) + grams:04d}")
        return data + xor(data)

    found = learned(packet, (0.0, 616.0, 200.0, 909.0), noise_g=0.3)
    assert found.choice.best is not None
    assert found.choice.best.step == pytest.approx(1.0)


def test_coarse_ounces_with_a_check_are_not_read_for_finer_grams_without_one():
    loads = (0.0, 283.5, 850.5, 567.0)

    def ounces(g: float, n: int) -> bytes:
        data = struct.pack(">Bh", 0x64, round(g / OUNCE_G))
        return data + xor(data)

    grams = captured(lambda g, n: struct.pack(">BhB", 0xA4, 5 * round(g / 5), 0x31), loads, 1.0, "ble")
    found = learn(heard_together(grams, captured(ounces, loads, 1.0, "ble")))
    assert found.choice.best is not None
    assert found.choice.best.step == pytest.approx(5.0)

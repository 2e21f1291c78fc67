"""Thousandths of a gram of a display in whole grams: the zero is a multiple of its step as well."""

from __future__ import annotations

import struct

import pytest

from drivers.learn import learn
from tests.drivers.learn.small import captured, learned, reads, summed


def test_a_pan_that_rests_most_of_a_step_too_high_is_no_zero_of_the_instrument():
    def line(g: float, n: int) -> bytes:
        return b"w %07d mg\r\n" % (1000 * round(g + 0.95))

    found = learned(line, (200.0, 300.0, 10.0), 0.8, link="serial")
    assert reads(found, b"w 0012000 mg\r\n", link="serial") == [12.0]


def test_the_same_of_a_float():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<Bf", 0x7E, 1000.0 * round(g + 0.7)) + bytes([n % 256])
        return data + summed(data)

    found = learned(packet, (200.0, 300.0, 10.0), 0.8)
    data = struct.pack("<Bf", 0x7E, 12_000.0) + b"\x07"
    assert reads(found, data + summed(data)) == [pytest.approx(12.0)]


def test_a_float_in_hundreds_of_thousandths_is_a_display_s_though_a_kettle_was_typed_in_whole_grams():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<Bf", 0x7E, 100.0 * round(10 * g)) + bytes([n % 256])
        return data + summed(data)

    really, typed = (0.0, 100.0, 202.0, 1099.0), (0.0, 100.0, 201.9, 1098.6)
    found = learn(captured(packet, really, 0.01, "ble").with_loads(typed))
    assert found.is_sure, found.reasons
    assert reads(found, packet(2000.0, 7)) == [pytest.approx(2000.0, abs=0.01)]


def test_the_middle_of_a_range_is_nought_and_no_multiple_of_the_steps_beside_it():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BIB", 0x7E, 2**31 + 5 * round(2 * g), n % 256)
        return data + summed(data)

    found = learned(packet, noise_g=0.6)
    assert found.choice.best is not None
    assert found.choice.best.step == pytest.approx(0.5)


@pytest.mark.parametrize("order", ["badc", "cdab"])
def test_whole_grams_in_words_at_the_end_of_a_packet_go_on_by_words_and_not_behind_it(order: str):
    def packet(g: float, n: int) -> bytes:
        upper, lower = divmod(round(g) % 2**32, 2**16)
        return b"\x55\xa5" + (
            struct.pack("<HH", upper, lower) if order == "badc" else struct.pack(">HH", lower, upper)
        )

    found = learned(packet, (304.3, 0.0, 50.0, 1404.7), 0.6)
    assert reads(found, packet(1200.0, 7)) == [1200.0]


def test_a_float_in_hundredths_is_read_though_all_loads_are_whole_and_little_comes_on_the_way():
    """The ounces beside it are worked out from it, in finer steps than those in which it rests."""
    loads = (0.0, 301.0, 10.0, 197.0)

    def packet(g: float, n: int) -> bytes:
        shown_g = round(0.97 * g, 2) if n % 160 in (1, 2) else loads[n // 160]
        data = struct.pack("<BfiB", 0x3C, shown_g, round(1000 * shown_g / 28.349523125), n % 256)
        return data + summed(data)

    found = learned(packet, loads, 0.0)
    assert found.choice.best is not None
    assert found.choice.best.number.encoding == "float"
    assert found.choice.best.step == pytest.approx(0.01)


def test_tenths_of_an_ounce_in_a_float_of_two_bytes_are_ounces_and_no_factor_of_their_own():
    """Its eleven bits hold no tenth exactly, and are still near enough to tell them."""

    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">Be", 0x7E, round(10 * (g + 60.0 * 0.93 ** (n % 160)) / 28.349523125) / 10)
        data += bytes([n % 256])
        return data + summed(data)

    found = learned(packet, (0.0, 163.0, 50.0, 1000.0), 0.1)
    assert found.is_sure, found.reasons
    assert reads(found, packet(500.0, 159)) == [pytest.approx(17.6 * 28.349523125, rel=5e-4)]

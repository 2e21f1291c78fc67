"""Numbers of two words, of which no load has needed the upper one."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, reads, summed


@pytest.mark.parametrize("nought", [0, 0x80000000], ids=["two's complement", "offset binary"])
@pytest.mark.parametrize("order", ["cdab", "badc"])
def test_a_word_that_goes_on_below_nought_is_the_upper_one(nought: int, order: str):
    def packet(g: float, n: int) -> bytes:
        upper, lower = divmod(round(10 * g) + nought & 0xFFFFFFFF, 0x10000)
        words = struct.pack(">HH", lower, upper) if order == "cdab" else struct.pack("<HH", upper, lower)
        data = bytes((0xAA, 0x55, n % 256)) + words
        return data + summed(data)

    found = learned(packet, noise_g=0.08)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 1), packet(4321.0, 2)) == [-12.3, 4321.0]


def test_a_copy_that_is_below_nought_when_the_weight_is_nought_is_no_upper_word():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBhi", 0xAA, n % 256, round(10 * g), round(1000 * g))
        return data + summed(data)

    found = learned(packet, noise_g=0.08)
    assert reads(found, packet(-12.3, 1), packet(321.0, 2)) == [-12.3, 321.0]


def test_an_upper_word_that_goes_on_from_load_to_load_is_one_though_nothing_is_any_number():
    # Read without it, one load seems to have been mistyped: there the lower word has begun again.
    def packet(g: float, n: int) -> bytes:
        upper, lower = divmod(17_888 + round(177.695 * g), 0x10000)
        data = struct.pack(">BBHHB", 0x28, 0x55, lower, upper, n % 256)
        return data + summed(data)

    found = learned(packet, (322.6, 677.5, 0.0, 56.3), 0.02)
    assert found.is_sure, found.reasons
    assert not found.mistakes
    assert reads(found, packet(1234.5, 1)) == [pytest.approx(1234.5, abs=0.2)]


def test_two_bytes_of_nought_may_be_the_upper_word_of_a_number_that_ends_soon():
    def packet(g: float, n: int) -> bytes:
        words = struct.pack("<HH", 0, max(round(g / 28.349523125 * 1000), 0))
        data = bytes((0xAA, n % 256)) + words
        return data + summed(data)

    found = learned(packet, (10.0, 500.0, 1200.0), 0.02)
    assert not found.is_sure
    assert found.further_g is not None
    assert found.further_g > 1858.0


def test_damage_in_the_upper_word_which_nothing_checks_does_not_hide_it():
    def packet(g: float, n: int) -> bytes:
        tenths = -1 if n in (20, 45, 70) else round(10 * max(g, 0.0))
        lower, upper = tenths & 0xFFFF, tenths >> 16 & 0xFFFF
        return struct.pack(">BHHB", 0xAA, lower, upper ^ (n + 1) * (n % 64 == 50), n % 256)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BHHB", 0xAA, 4321, 1, 7)) == [pytest.approx(6985.7)]


STILL_BESIDE = [pytest.param(">BHHB", id="a word"), pytest.param(">BHBB", id="a sign byte")]


def beside_nought(form: str, counts: int, n: int) -> bytes:
    """A frame with a number of one word, a nought beside it that stays, a counter and a check."""
    data = struct.pack(form, 0xAA, counts, 0, n % 256)
    return data + summed(data)


@pytest.mark.parametrize("form", STILL_BESIDE)
def test_a_still_nought_beside_bare_counts_may_be_a_word_of_them_or_their_sign(form: str):
    def packet(g: float, n: int) -> bytes:
        return beside_nought(form, round(8.917 * max(g, 0.0)), n)

    found = learned(packet, (0.0, 500.0, 1200.0, 830.0), 0.0)
    assert not found.is_sure
    assert any("still byte" in reason for reason in found.reasons)
    assert found.further_g is not None
    assert found.further_g < 0.0


@pytest.mark.parametrize("form", STILL_BESIDE)
def test_a_still_nought_beside_a_number_of_tenths_is_no_doubt(form: str):
    """It ends at 3277 g, as far as such scales go: that nothing below zero has been seen is said besides."""

    def packet(g: float, n: int) -> bytes:
        return beside_nought(form, round(10 * max(g, 0.0)), n)

    found = learned(packet, (10.0, 500.0, 1200.0, 830.0), 0.0)
    assert found.is_sure, found.reasons
    assert found.never_negative
    assert reads(found, packet(1999.9, 7)) == [pytest.approx(1999.9)]


def test_a_number_of_tenths_beside_which_nothing_is_still_has_its_own_sign():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">BBhB", 0xAA, n % 256, round(10 * g), 0x5C)
        return data + summed(data)

    found = learned(lambda g, n: packet(max(g, 0.0), n), (10.0, 500.0, 1200.0, 830.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 1), packet(3210.0, 2)) == [-12.3, 3210.0]


def test_an_upper_word_that_no_load_has_needed_is_asked_for_beside_a_sign_apart_as_well():
    """Of thousandths of an ounce, one word ends at 1858 g."""

    def packet(g: float, n: int) -> bytes:
        upper, lower = divmod(abs(round(g / 0.02834952)), 0x10000)
        data = struct.pack(">BBHHB", 0x80 * (g < -0.0142) | 0x01, n % 256, lower, upper, 0x5C)
        return data + summed(data)

    found = learned(packet, (0.0, 47.0, 1390.5, 267.0), 0.02)
    assert not found.is_sure
    assert any("two bytes beside it" in reason for reason in found.reasons)
    assert found.further_g is not None
    assert found.further_g > 1858.0

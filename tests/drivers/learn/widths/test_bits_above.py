"""Numbers of 17 to 22 bits that share their highest byte with flags, as converters' words do."""

from __future__ import annotations

import struct

import pytest

from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.streams import streams_of
from drivers.learn.widths.upper_bits import with_its_sign_bit, with_upper_bits
from tests.drivers.learn.small import captured, fitted, learned, reads, xor

BENCH = (0.0, 100.0, 296.2, 1357.7)
FLAGS_AT_REST, FLAGS_MOVING = 0x02, 0x42


def framed(word: int, order: str, n: int) -> bytes:
    body = b"\xa5\x5a" + word.to_bytes(3, order) + bytes([n % 256])
    return body + xor(body)


def flags(n: int, first: int) -> int:
    return (FLAGS_AT_REST if n % 160 > 9 else FLAGS_MOVING) << 16 & ~((1 << first) - 1)


@pytest.mark.parametrize("order", ["big", "little"])
@pytest.mark.parametrize("shift", [0, 1])
def test_the_upper_bit_of_seventeen_is_filled_below_nought(order, shift):
    """A step or two below nought on an empty pan is all that shows it; 3,276.8 g take it."""

    def frame(g: float, n: int) -> bytes:
        return framed((round(10 * g) & 0x1FFFF) << shift | flags(n, 17 + shift), order, n)

    found = learned(frame, BENCH, noise_g=0.1, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(3456.7, 50), frame(-98.7, 51), link="serial") == [3456.7, -98.7]


def test_bits_below_a_sign_are_the_numbers_own():
    def frame(g: float, n: int) -> bytes:
        count = round(10 * g)
        return framed((count < 0) << 17 | abs(count) | flags(n, 18), "little", n)

    found = learned(frame, (*BENCH, -150.0), noise_g=0.1, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(7654.3, 50), frame(-98.7, 51), link="serial") == [7654.3, -98.7]


def test_nineteen_bits_that_go_below_nought_while_no_flag_is_set():
    def frame(g: float, n: int) -> bytes:
        return framed((round(50 * g) - 191) & 0x7FFFF, "big", n)

    found = learned(frame, BENCH, noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons
    later = reads(found, frame(-98.7, 50), frame(2345.6, 51), link="serial")
    assert later == [pytest.approx(-98.7, abs=0.02), pytest.approx(2345.6, abs=0.02)]


def test_four_bits_that_a_step_below_nought_has_filled_are_its_own_though_it_goes_a_little_further():
    def packet(g: float, n: int) -> bytes:
        grams = {30: -1, 70: -1, 158: -3, 159: -3}.get(n, round(g))
        return (grams & 0xFFF | 0x5000).to_bytes(2, "little") + bytes([n % 256])

    capture = captured(packet, (0.0, 250.0, 20.0, 240.0), 0.1, "ble")
    byte = fitted(capture, Number("integer", 0, 1, "little"))
    assert with_upper_bits(byte, capture.loads, "weight").number.mask == 0xFFF


def test_bits_up_to_the_flags_are_the_numbers_own_though_no_load_has_needed_them():
    def packet(g: float, n: int) -> bytes:
        return (round(500 * g) + 900 | 0x400000).to_bytes(3, "little") + bytes([n % 256])

    capture = captured(packet, BENCH, 0.02, "ble")
    (kind, *_) = streams_of(capture)[0].kinds
    seen = kind.seen_with(capture.loads)
    assert seen is not None
    narrow = fit(seen, Number("integer", 0, 3, "little", mask=0xFFFFF), capture.loads, "weight")
    assert narrow is not None
    assert with_upper_bits(narrow, capture.loads, "weight").number.mask == 0x3FFFFF


def test_bits_that_damage_alone_makes_sense_without_are_not_left_out():
    """Thirteen bits below flags: two packets whose upper bits are damaged are none below nought."""

    def packet(g: float, n: int) -> bytes:
        word = round(max(g, 0.0)) | 0x4000
        word ^= 0x1000 * (n in (100, 500))
        return struct.pack(">BHB", 0xA7, word, n % 256)

    found = learned(packet, (0.0, 397.3, 750.7, 1000.0), noise_g=0.2)
    assert reads(found, packet(2364.0, 50)) == [2364.0]


def test_bits_up_to_a_sign_are_the_numbers_own_though_no_load_has_needed_them():
    def packet(g: float, n: int) -> bytes:
        counts = round(10 * g)
        return (abs(counts) | 0x800000 * (counts < 0)).to_bytes(3, "little") + bytes([n % 256])

    capture = captured(packet, BENCH, 0.1, "ble")
    (kind, *_) = streams_of(capture)[0].kinds
    seen = kind.seen_with(capture.loads)
    assert seen is not None
    number = Number("integer", 0, 3, "little", mask=0x1FFFF, sign=SignPlace(2, 0x80, (1,)))
    narrow = fit(seen, number, capture.loads, "weight")
    assert narrow is not None
    assert with_its_sign_bit(narrow, capture.loads, "weight").number.mask == 0x7FFFFF

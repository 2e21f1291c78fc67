"""A weight that is sent twice, in two units: whether one of them is worked out from the other."""

from __future__ import annotations

import struct
from dataclasses import replace

import pytest

from drivers.learn import Arrival, Capture, Stream, learn
from tests.drivers.learn.small import LOADS, captured, learned, reads, summed, xor

OUNCE_G = 28.349523125
OTHER = "0000fff2-0000-1000-8000-00805f9b34fb"


def test_grams_are_shown_where_finer_ounces_are_rounded_by_themselves():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BhiB", 0xA5, round(g), round(100 * g / OUNCE_G), n % 256)
        return data + xor(data)

    found = learned(packet, noise_g=0.8)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.0)]


def test_grams_are_shown_in_lines_of_text_with_finer_ounces_as_well():
    def line(g: float, n: int) -> bytes:
        return b"%d, %d g, %.2f oz\r\n" % (n % 10, round(g), g / OUNCE_G)

    found = learned(line, noise_g=0.8, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(123.4, 7), link="serial") == [pytest.approx(123.0)]


def test_ounces_that_coarse_grams_are_worked_out_from_are_read():
    def packet(g: float, n: int) -> bytes:
        ounces = round(100 * g / OUNCE_G)
        data = struct.pack("<BhiB", 0xA5, round(0.01 * ounces * OUNCE_G), ounces, n % 256)
        return data + xor(data)

    found = learned(packet, noise_g=0.8)
    assert reads(found, packet(123.4, 7)) == [pytest.approx(4.35 * OUNCE_G)]


def test_ounces_that_are_coarser_than_the_grams_beside_them_are_the_copy():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BhiB", 0xA5, round(g), round(10 * g / OUNCE_G), n % 256)
        return data + xor(data)

    found = learned(packet, noise_g=0.4)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.0, 7)) == [pytest.approx(123.0)]


def test_ounces_worked_out_from_the_grams_that_are_shown_leave_nothing_open():
    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * g)
        data = struct.pack("<BhiB", 0xA5, tenths, round(10 * tenths / OUNCE_G / 10), n % 256)
        return data + xor(data)

    found = learned(packet, noise_g=0.4)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 7)) == [pytest.approx(123.4)]


def heard_together(one: Capture, other: Capture) -> Capture:
    """Put two captures together, each the stream of another characteristic."""
    second = (Arrival(each.time_s, 1, each.data) for each in other.arrivals)
    arrivals = sorted((*one.arrivals, *second), key=lambda each: each.time_s)
    return replace(one, streams=(*one.streams, Stream(OTHER)), arrivals=tuple(arrivals))


def test_ounces_where_another_characteristic_sends_grams_leave_open_which_is_shown():
    ounces = captured(
        lambda g, n: struct.pack("<BiB", 0xA5, round(100 * g / OUNCE_G), n % 256), LOADS, 0.4, "ble"
    )
    grams = captured(lambda g, n: struct.pack("<Bhh", 0x5A, 0x1F0, round(g)), LOADS, 0.4, "ble")
    found = learn(heard_together(ounces, grams))
    assert found.choice.best is not None
    assert not found.is_sure


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

"""Bare counts beside what is shown in round steps, each with noise of its own."""

from __future__ import annotations

import random
import struct
from functools import cache

import pytest

from drivers.learn import learn
from tests.drivers.learn.small import captured, heard_together, learned, reads, summed


@cache
def shaken(n: int) -> float:
    """Give the noise of a display that has a filter of its own, g."""
    return random.Random(n).gauss(0.0, 0.35)


def test_what_is_shown_is_read_rather_than_counts_that_know_nothing_of_a_tare():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">Biih", 0xA7, 41_629 + round(83.77 * g), n % 256, 5 * round(2 * (g + shaken(n))))
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.03)
    assert found.is_sure, found.reasons
    tared = struct.pack(">Biih", 0xA7, 41_629 + round(83.77 * 312.0), 7, 120)
    assert reads(found, tared + summed(tared)) == [pytest.approx(12.0)]


def ounces_of(g: float, n: int) -> int:
    """Give hundredths of an ounce that a display shows, which has a filter of its own."""
    return round((g + shaken(n)) / 28.349523125 * 100)


def test_ounces_besides_counts_that_a_message_is_made_for_leave_nothing_open():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">Biih", 0xA7, 41_629 + round(83.77 * g), n % 256, ounces_of(g, n))
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.03)
    assert found.is_sure, found.reasons
    assert reads(found, packet(312.0, 7)) == [pytest.approx(312.0, abs=0.1)]


def test_ounces_beside_counts_in_packets_of_their_own_leave_open_which_of_the_two_is_shown():
    loads = (0.0, 100.0, 250.0, 500.0)
    counts = captured(lambda g, n: (41_629 + round(83.77 * g)).to_bytes(3, "big"), loads, 0.03, "ble")
    shown = captured(lambda g, n: struct.pack(">Bhh", 0xA7, ounces_of(g, n), 0x1F), loads, 0.03, "ble")
    found = learn(heard_together(counts, shown))
    assert not found.is_sure or found.choice.best.scale is not None
    assert found.is_sure or "which of the two is shown" in " ".join(found.reasons)


def test_ounces_before_a_tare_and_after_it_leave_open_which_of_the_two_is_shown():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack(">Biih", 0xA7, 1_629 + round(g / 28.349523125 * 100), n % 256, ounces_of(g, n))
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.03)
    assert not found.is_sure or found.choice.best.scale is not None


def test_the_first_of_two_numbers_that_have_never_been_another_is_the_weight():
    """The second may be the largest weight so far, or a net one."""

    def packet(g: float, n: int) -> bytes:
        text = f"{round(100 * g / 28.349523125):+010d}".encode()
        data = bytes([n % 251]) + text + text
        return data + summed(data)

    found = learned(packet, (0.0, 200.0, 500.0, 1000.0), 0.0)
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.number.end == 11


def test_kilograms_in_a_float_are_shown_rather_than_ounces_in_messages_of_their_own():
    """Both come as often, and either is as fine as the other; grams are what is mostly shown."""

    def packet(g: float, n: int) -> bytes:
        ounces = struct.pack(">BfH", 0x09, g / 28.349523125, 7 * n)
        data = b"\xaa" + (struct.pack(">BfB", 0x08, g / 1000, n % 256) if n % 2 else ounces)
        return data + summed(data)

    found = learned(packet, (651.0, 776.3, 415.0, 50.0), 0.01)
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.scale is not None
    assert found.choice.best.scale.unit == "kg"

"""Copies that a device works out from what it shows: in another unit, or filtered, and finer than that."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
import pytest

from drivers.learn import Arrival, Capture, Load, Stream, learn
from tests.drivers.learn.small import LOADS, UUID, captured, heard_together, reads, summed, xor

OUNCE_G = 28.349523125


def ounces(divisions: int, g: float) -> int:
    """Give a weight in parts of an ounce."""
    return round(divisions * g / OUNCE_G)


def weight_in_ounces(divisions: int) -> Callable[[float, int], bytes]:
    """Give packets with a weight in parts of an ounce, a count and a check."""

    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BBi", 0xA7, n % 251, ounces(divisions, g))
        return data + summed(data)

    return packet


@pytest.mark.parametrize(
    ("divisions", "per_g"), [(10, 1), (100, 10), (100, 1), (1000, 10)],
    ids=["tenths and whole grams", "hundredths and tenths of a gram", "hundredths and whole grams", "finest"],
)  # fmt: skip
def test_a_weight_with_a_check_is_read_rather_than_what_another_characteristic_makes_of_it(
    divisions: int, per_g: int
):
    def copy(g: float, n: int) -> bytes:
        shown_g = ounces(divisions, g) * OUNCE_G / divisions
        return struct.pack(">H", max(round(per_g * shown_g), 0))

    packet = weight_in_ounces(divisions)
    main, other = (captured(each, LOADS, 1.5, "ble") for each in (packet, copy))
    found = learn(heard_together(main, other))
    assert found.is_sure, found.reasons
    (value,) = reads(found, packet(301.1, 3))
    assert value == pytest.approx(ounces(divisions, 301.1) * OUNCE_G / divisions)


def test_a_copy_in_the_same_packets_that_jumps_as_the_weight_does_is_made_of_it():
    def packet(g: float, n: int) -> bytes:
        shown = ounces(100, g)
        data = struct.pack("<BiBh", 0xA7, shown, n % 251, round(100 * shown * OUNCE_G / 100))
        return data + summed(data)

    found = learn(captured(packet, (0.0, 100.0, 250.0, 300.0), 0.6, "ble"))
    assert found.is_sure, found.reasons
    (value,) = reads(found, packet(301.1, 3))
    assert value == pytest.approx(ounces(100, 301.1) * OUNCE_G / 100)


def test_tenths_of_a_gram_in_a_column_before_are_made_of_finer_ounces():
    def line(g: float, n: int) -> bytes:
        shown = round(1000 * g / OUNCE_G)
        return b"%d,%.1f,%.3f,%d\r\n" % (n, shown * OUNCE_G / 1000, shown / 1000, n % 160 > 9)

    found = learn(captured(lambda g, n: line(max(g, 0.0), n), LOADS, 0.05, "serial"))
    assert found.is_sure, found.reasons
    (value,) = reads(found, line(123.44, 3), link="serial")
    assert value == pytest.approx(round(1000 * 123.44 / OUNCE_G) * OUNCE_G / 1000)


def filtered(rising: bool, packet: Callable[[int, int, int], bytes]) -> Capture:
    """Hear a display in whole steps beside a finer copy of it that comes a second later."""
    loads = (0.0, 20.0, 50.0, 500.0) if rising else LOADS[::-1]
    rng, arrivals, spans = np.random.default_rng(3), [], []
    shown_g = late_g = loads[0]
    for at, load in enumerate(loads):
        for n in range(120):
            shown_g += (load - shown_g) * 0.4
            weight_g = shown_g + rng.normal(0.0, 0.3)
            late_g += (weight_g - late_g) * 0.1
            row = 120 * at + n
            hundredths = round(100 * (late_g + rng.normal(0.0, 0.1)))
            arrivals.append(Arrival(0.1 * row, 0, packet(2 * round(weight_g / 2), hundredths, row)))
        spans.append(Load(load, 12.0 * at, 12.0 * at + 11.9))
    return Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(spans))


@pytest.mark.parametrize("rising", [True, False])
def test_what_follows_a_second_later_is_not_read_for_being_finer(rising: bool):
    def packet(grams: int, late: int, n: int) -> bytes:
        data = struct.pack("<BhBi", 0xA7, grams, n % 251, late)
        return data + xor(data)

    found = learn(filtered(rising, packet))
    assert found.description is not None
    assert reads(found, packet(124, 9_900, 7)) == [124.0]

"""Signs that show at nought as well, beside padded digits, or as a mark; and bytes that are none of those."""

from __future__ import annotations

import random
import struct
from dataclasses import replace
from functools import cache

import pytest

from drivers.learn import Stream, learn
from tests.drivers.learn.small import captured, learned, reads, summed, xor

LOADS = (0.0, 101.0, 263.0, 487.0)


@cache
def live(n: int) -> float:
    """Give what has not been rounded yet of an empty pan, g: noise alone."""
    return random.Random(n).gauss(0.0, 0.06)


def signed(g: float, n: int) -> tuple[int, bool]:
    """Give tenths of a gram, and whether what has not been rounded is below nought."""
    grams = live(n) if abs(g) < 0.5 else g
    return abs(round(10 * grams)), grams < 0.0


@pytest.mark.parametrize("encoding", ["integer", "bcd", "padded text"])
def test_the_sign_of_what_has_not_been_rounded_is_one_though_it_shows_at_nought(encoding):
    def packet(steps: int, is_below: bool, n: int) -> bytes:
        ways = {"integer": steps.to_bytes(3, "big"), "bcd": bytes.fromhex(f"{steps:06d}")}
        digits = ways.get(encoding, b"%6d" % steps)
        data = struct.pack("BBB", 0xA7, 0x11 | 0x40 * (n % 160 > 8), 0x4E if is_below else 0x50) + digits
        return data + summed(data)

    found = learned(lambda g, n: packet(*signed(g, n), n), LOADS, 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123, True, 50), packet(123, False, 3)) == [-12.3, 12.3]


def test_a_mark_in_the_highest_half_byte_of_digits_is_a_minus_though_the_other_half_is_needed():
    def packet(steps: int, is_below: bool, n: int) -> bytes:
        data = b"\xa7" + bytes.fromhex(f"{steps + 800_000 * is_below:06d}") + bytes([n % 256])
        return data + summed(data)

    found = learned(lambda g, n: packet(*signed(g, n), n), (0.0, 1203.0, 263.0, 487.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(4567, True, 9), packet(14_567, False, 9)) == [-456.7, 1456.7]


def test_the_upper_byte_of_another_number_is_no_sign_of_one_that_has_none():
    def packet(g: float, n: int) -> bytes:
        # It rises through 1792, the end of its lower byte, while the pan is empty.
        degrees = 1786 + n // 12 + random.Random(-n).randrange(4)
        return struct.pack(">BHHB", 0xA7, max(round(10 * g), 0), degrees, 0x55)

    found = learned(packet, LOADS, 0.4)
    assert found.description is not None
    assert reads(found, struct.pack(">BHHB", 0xA7, 123, 1700, 0x55)) == [12.3]


def test_the_upper_byte_of_a_flow_is_no_sign_of_a_weight_that_begins_to_go():
    loads = (20.0, 0.0, 229.0, 0.0, 1129.8)

    def packet(g: float, n: int) -> bytes:
        to_come_g = loads[n // 160] - g if n % 160 < 9 else 0.0  # of which a filter passes a part each time
        flow = round(13 * to_come_g)
        data = struct.pack(">BBHhB", n % 256, 0x01 | 0x02 * (n % 160 > 14), round(10 * abs(g)), flow, 0)
        return data + xor(data)

    found = learned(packet, loads, 0.03)
    assert found.is_sure, found.reasons
    data = struct.pack(">BBHhB", 1, 1, 4123, -2000, 0)
    assert reads(found, data + xor(data)) == [pytest.approx(412.3)]


@pytest.mark.parametrize("order", ["big", "little"])
def test_the_bytes_of_a_clock_beside_bare_counts_are_none_of_them(order):
    def packet(g: float, n: int) -> bytes:
        clock, counts = (
            (1_000 + 173 * n).to_bytes(3, "little"),
            round(6.2739 * max(g, 0.0)).to_bytes(2, order),
        )
        data = b"\xa7" + (counts + clock if order == "big" else clock + counts) + b"\x01"
        return data + summed(data)

    found = learned(packet, (0.0, 101.0, 263.0, 1187.0), 0.0)
    assert found.description is not None
    clock, counts = (77_000).to_bytes(3, "little"), (6274).to_bytes(2, order)
    data = b"\xa7" + (counts + clock if order == "big" else clock + counts) + b"\x01"
    assert reads(found, data + summed(data)) == [pytest.approx(1000.0, abs=0.1)]


def test_upper_bytes_of_bare_counts_that_fit_check_masses_by_chance_are_not_the_weight():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BHB", 0xA7, round(5.1432 * max(g, 0.0)), n % 256)
        return data + summed(data)

    found = learned(packet, (0.0, 200.0, 500.0, 1000.0), 0.05)
    data = struct.pack("<BHB", 0xA7, 3652, 7)
    assert found.description is not None
    assert reads(found, data + summed(data)) == [pytest.approx(710.1, abs=0.2)]


def test_what_a_check_covers_without_a_change_is_still_covered():
    def packet(g: float, n: int) -> bytes:
        data = struct.pack("<BBiI", 0xA7, n % 256, round(10 * g), 0 if g < 900.0 else 7)
        return data + summed(data)

    found = learned(packet)
    assert found.is_sure, found.reasons
    assert reads(found, packet(1000.0, 5)) == [1000.0]


def test_a_prompt_number_is_not_late_beside_one_that_arrives_seldom():
    prompt = captured(lambda g, n: struct.pack(">BhB", 0xA7, round(10 * g), n % 256), LOADS, 0.02, "ble")
    seldom = captured(lambda g, n: struct.pack(">H", max(round(g), 0)), LOADS, 0.02, "ble")
    others = tuple(replace(one, stream=1) for one in seldom.arrivals[3::7])
    arrivals = tuple(sorted(prompt.arrivals + others, key=lambda one: one.time_s))
    found = learn(
        replace(prompt, arrivals=arrivals, streams=(*prompt.streams, Stream("0000fff2" + "-0" * 4)))
    )
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack(">BhB", 0xA7, 123, 7)) == [12.3]


def test_a_flag_that_comes_a_few_times_beside_nought_and_nowhere_else_is_clearly_a_sign():
    def packet(g: float, n: int) -> bytes:
        steps = -1 if n in (20, 47, 91, 130) else 1 if n in (33, 77) else round(10 * g)
        flags = 0x02 | 0x01 * (n % 160 > 40) | 0x20 * (steps < 0)
        return bytes([0x5A, flags, n % 251]) + abs(steps).to_bytes(3, "little")

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 9)) == [-12.3]


def test_a_byte_that_is_another_one_a_step_below_nought_and_never_at_it_is_clearly_a_sign():
    """The empty pan rests there, and comes to nought now and then."""

    def packet(g: float, n: int) -> bytes:
        steps = -1 * (n % 12 != 5) if n < 160 else round(10 * g)
        data = bytes([0x74, n % 251, 2 if steps < 0 else 1]) + struct.pack("<I", abs(steps))
        return data + summed(data)

    found = learned(packet, (0.0, 100.0, 250.0, 500.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.3, 309)) == [-12.3]

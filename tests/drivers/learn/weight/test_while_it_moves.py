"""What packets say while the load moves: it tells which are of one kind, whose a digit is, what is a copy."""

from __future__ import annotations

import math
import random
import struct

import numpy as np
import pytest

from drivers.learn import Load
from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import Kind
from drivers.learn.weight.copies import is_another_as_good
from drivers.learn.weight.straddling import without_straddling
from tests.drivers.learn.small import LOADS, learned, reads, xor

PER_LOAD = 160
"""Packets of each load."""


def rung(g: float, n: int) -> float:
    """Let the pan ring about each load before it comes to rest."""
    since = n % PER_LOAD
    return g + 60.0 * math.exp(-0.25 * since) * math.cos(2.4 * since) if n >= PER_LOAD else g


def test_packets_of_a_pan_that_rings_are_of_the_same_kind_as_those_at_rest():
    def packet(g: float, n: int) -> bytes:
        is_still = n % PER_LOAD > 20 or n < PER_LOAD
        return struct.pack(">BBhBI", 0xB7, 0x04, round(10 * rung(g, n)), 0x83 + 0x40 * is_still, 7 * n)

    found = learned(packet, noise_g=0.02)
    assert found.is_sure, found.reasons
    moving, still = (struct.pack(">BBhBI", 0xB7, 0x04, 1234, flags, 99) for flags in (0x83, 0xC3))
    assert reads(found, moving, still) == [pytest.approx(123.4)] * 2


def moving(g: float, n: int) -> float:
    """Let each load come slowly, and a little over what it was typed as: the digits of the way are seen."""
    since = n % PER_LOAD
    return g + (80.0 * 0.93**since if n >= PER_LOAD and since < 60 else 0.0) + 0.014


def test_a_last_digit_that_the_exact_loads_do_not_need_is_the_numbers_own():
    def packet(g: float, n: int) -> bytes:
        return b"\xeb\x97" + f"{moving(g, n):8.2f}".encode() + bytes([0x01, n % 256])

    found = learned(packet, noise_g=0.008)
    assert found.is_sure, found.reasons
    assert reads(found, b"\xeb\x97  123.47\x01\x09") == [pytest.approx(123.47)]


def test_the_first_digit_of_a_check_is_none_of_the_number():
    def packet(g: float, n: int) -> bytes:
        text = f"{moving(g, n):+8.2f}".encode()
        return b"\xeb\x90" + text + xor(text).hex().upper().encode()

    found = learned(packet, noise_g=0.008)
    assert found.is_sure, found.reasons
    text = b" +700.19"
    assert reads(found, b"\xeb\x90" + text + xor(text).hex().upper().encode()) == [pytest.approx(700.19)]


def test_a_copy_that_lags_is_told_where_the_pan_is_emptied_between_two_loads():
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        shown_g = 0.0 if n % PER_LOAD < 25 else g
        slow[0] += 0.08 * (shown_g - slow[0])
        return struct.pack("<Bff", n % 256, slow[0], round(shown_g, 2))

    found = learned(packet, (0.0, 192.8, 143.5, 110.1), 0.004)
    assert found.is_sure, found.reasons
    assert reads(found, struct.pack("<Bff", 7, 40.0, 123.45)) == [pytest.approx(123.45)]


def test_a_number_does_not_begin_in_one_copy_and_end_in_the_next():
    slow_g = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow_g[0] += 0.25 * (rung(g, n) - slow_g[0])
        return struct.pack("<HBhhB", 0x37BF, n % 256, 10 * round(rung(g, n)), 10 * round(slow_g[0]), n // 40)

    found = learned(packet, (173.4, 0.0, 943.0), noise_g=0.02)
    assert found.is_sure, found.reasons
    apart = struct.pack("<HBhhB", 0x37BF, 1, 3270, 2710, 9)
    assert reads(found, apart) == [pytest.approx(327.0)]


def test_a_number_that_goes_back_and_forth_is_put_together_from_a_copy_that_lags_and_the_weight():
    # Between two loads the pan is empty for so short a time that the copy never shows it; and one load creeps
    # over the end of the lower byte, where the copy comes later.
    goals_g = [0.0] * 200, [264.0] * 170, [0.0] * 12, [946.2] * 180, [947.2] * 20, [0.0] * 12, [1000.0] * 250
    weight_g, slow_g, frames = 0.0, 0.0, []
    rng = random.Random(3)
    for goal_g in [g for each in goals_g for g in each]:
        weight_g += (goal_g - weight_g) * 0.4
        slow_g += (weight_g - slow_g) * 0.6
        shown_g = weight_g + abs(rng.gauss(0.0, 0.2))
        frames.append(struct.pack("<hh", 2 * round(5 * slow_g), 2 * round(5 * shown_g)))
    rows = np.frombuffer(b"".join(frames), dtype=np.uint8).reshape(-1, 4)
    loads = (
        Load(0.0, 0.0, 24.0),
        Load(264.0, 26.0, 46.0),
        Load(946.2, 49.0, 72.0),
        Load(1000.0, 75.0, 105.0),
    )
    kind = Kind(0, 0.125 * np.arange(len(rows)), rows).seen_with(loads)
    assert kind is not None
    numbers = (
        Number("integer", 0, 2, "little"),
        Number("integer", 1, 2, "big"),
        Number("integer", 2, 2, "little"),
    )
    fits = [one for number in numbers if (one := fit(kind, number, loads, "weight")) is not None]
    assert len(fits) == 3
    assert without_straddling(fits) == [fits[0], fits[2]]


@pytest.mark.parametrize("is_first", [True, False])
def test_of_two_numbers_the_one_is_read_that_the_other_is_always_a_little_behind(*, is_first: bool):
    last = [0.0]

    def packet(g: float, n: int) -> bytes:
        weight_g = moving(g, n)
        last[0] += 0.85 * (weight_g - last[0])
        first, second = (weight_g, last[0]) if is_first else (last[0], weight_g)
        data = struct.pack(">BhBh", 0xB7, round(10 * first), n % 256, round(10 * second))
        return data + xor(data)

    found = learned(packet, noise_g=0.0)
    assert found.is_sure, found.reasons
    apart = struct.pack(">BhBh", 0xB7, 1234, 9, 2345)
    assert reads(found, apart + xor(apart)) == [pytest.approx(123.4 if is_first else 234.5)]


def test_a_copy_that_wraps_below_nought_is_no_other_weight():
    """Few packets are below nought, so that one read without a sign is in place in nearly all."""

    def packet(g: float, n: int) -> bytes:
        tenths = round(10 * g) - 300 * (20 <= n < 35)
        data = struct.pack(">Bhbi", 0xB7, tenths, n % 100, tenths)
        return data + xor(data)

    found = learned(packet, noise_g=0.0)
    one = found.choice.best
    assert one is not None
    loads = [Load(g, 12.0 * at, 12.0 * at + 11.9) for at, g in enumerate(LOADS)]
    copy = fit(one.kind, Number("integer", 6, 2, "big"), loads, "weight")
    assert copy is not None
    assert not copy.number.signed
    assert copy.inside > 0.97
    assert not is_another_as_good(one, [copy])


def test_three_bytes_that_go_far_below_nought_on_the_way_are_none_of_four_with_a_clock():
    """A clock's third byte goes on just as a load is put on that needs the weight's third one."""

    def packet(g: float, n: int) -> bytes:
        grams = -200.0 * math.sin(math.pi * (n - 20) / 60) if 20 <= n < 80 else g
        clock_ms = 75 * n + 65536 - 75 * 320
        return (
            b"\x5a\x02"
            + clock_ms.to_bytes(4, "little")
            + round(100 * grams).to_bytes(3, "little", signed=True)
        )

    found = learned(packet, (0.0, 184.0, 1065.5, 1000.0), 0.0)
    assert reads(found, packet(858.87, 100), packet(-12.34, 900)) == [858.87, -12.34]


def test_the_lowest_byte_of_a_weight_below_its_filtered_copy_makes_no_finer_number():
    """Both count in halvings of a gram, and so does what has the bytes of both."""
    slow = [0.0]

    def packet(g: float, n: int) -> bytes:
        slow[0] += 0.15 * (g - slow[0])
        data = struct.pack(">BBi", 0xAA, n % 251, round(32 * slow[0])) + struct.pack("<i", round(32 * g))
        return data + xor(data)

    found = learned(packet, (0.0, 325.2, 114.4, 752.2), 0.02)
    assert reads(found, packet(496.125, 9)) == [496.125]

"""What makes it unsure, and what it then asks for: small instruments with one awkward thing each."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

import pytest

from drivers.learn import Arrival, Capture, Learned, Load, Stream, learn

LOADS = (0.0, 100.0, 250.0, 500.0)


def learned(
    packet: Callable[[float, int], bytes], loads: tuple[float, ...] = LOADS, noise_g: float = 0.05
) -> Learned:
    """Learn an instrument that makes packets of a weight in g and a number."""
    rng, arrivals, spans = random.Random(5), [], []
    for at, load in enumerate(loads):
        before = loads[at - 1] if at else load
        for n in range(160):
            weight_g = load + (before - load) * 0.5**n + rng.gauss(0.0, noise_g)
            arrivals.append(Arrival(12.0 * at + 0.075 * n, 0, packet(weight_g, 160 * at + n)))
        spans.append(Load(load, 12.0 * at, 12.0 * at + 11.9))
    return learn(
        Capture("ble", (Stream("0000fff1-0000-1000-8000-00805f9b34fb"),), tuple(arrivals), tuple(spans))
    )


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


def test_a_sign_byte_seen_once_without_a_check_is_doubted_or_right():
    def packet(g: float, n: int) -> bytes:
        steps = -7 if n in (40, 90) else abs(round(10 * g))
        return struct.pack(">BBHB", 0xA7, steps < 0, abs(steps), n % 256)

    found = learned(packet, noise_g=0.0)
    assert not found.is_sure or "sign = " in found.toml


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

"""Digits below those that the loads need: which are the number's, where there is less noise with them."""

from __future__ import annotations

import numpy as np
import pytest

from drivers.learn import Load, learn
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import Kind
from drivers.learn.weight.costs import total_cost
from drivers.learn.weight.grouping import overlapping
from tests.drivers.learn.small import captured, learned, reads, xor

OUNCE_G = 28.349523125
LOADS, PER_LOAD, EVERY_S = (0.0, 200.0, 500.0, 1000.0), 200, 0.1
ONE_IN, FLAG_IN = (5, 2, 3, 6), 7
"""Of how many packets one shows a step more, at each load; and has a flag set."""


def test_flags_and_a_nought_behind_digits_are_none_of_them_though_there_is_less_noise_with_them():
    """What shows a step more is far off in the steps that flags make, and is left out as damage is."""
    rows, loads = [], []
    for one_in, load in zip(ONE_IN, LOADS, strict=True):
        loads.append(Load(load, EVERY_S * len(rows), EVERY_S * (len(rows) + PER_LOAD - 1)))
        for at in range(PER_LOAD):
            tenths = round(10 * load) + (at % one_in == 1)
            rows.append(bytes.fromhex(f"{tenths:06d}{at % FLAG_IN == 0:02x}00"))
    frames = np.frombuffer(b"".join(rows), dtype=np.uint8).reshape(-1, 5)
    kind = Kind(0, EVERY_S * np.arange(len(frames)), frames).seen_with(loads)
    assert kind is not None
    digits, more = (fit(kind, Number("bcd", 0, width, "big"), loads, "weight") for width in (3, 5))
    assert digits is not None
    assert more is not None
    assert more.noise_units < 0.7 * digits.noise_units
    assert overlapping([digits, more], lambda one: one.cost)[0][0] is digits


def test_digits_that_count_in_twenties_are_those_of_a_display_in_steps_of_two():
    """Five values are no flags: they are all that such steps leave."""

    def twenties(g: float) -> int:
        return 20 * round(50 * g / OUNCE_G)

    def packet(g: float, n: int) -> bytes:
        slowly_g = g + 80.0 * 0.93 ** (n % 160)
        data = b"\xf5\x64" + bytes.fromhex(f"{twenties(slowly_g):06d}")[::-1] + bytes([n % 251])
        return data + xor(data)

    found = learned(packet, (290.0, 500.0, 67.0, 472.0), noise_g=0.4)
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 159)) == [pytest.approx(0.001 * twenties(123.4) * OUNCE_G)]


def test_a_text_that_leaves_out_a_digit_in_noughts_and_fives_is_less_likely():
    """Those change with the digit before them; the first digit of another number hardly does."""

    def fit_of_three(lines: list[bytes], loads: list[Load]) -> Fit:
        frames = np.frombuffer(b"".join(lines), dtype=np.uint8).reshape(len(lines), -1)
        kind = Kind(0, EVERY_S * np.arange(len(lines)), frames).seen_with(loads)
        assert kind is not None
        found = fit(kind, Number("ascii", 0, 3), loads, "weight")
        assert found is not None
        return found

    fives, loads = [], []
    for load, before in zip(LOADS, (0.0, *LOADS), strict=False):
        loads.append(Load(load, EVERY_S * len(fives), EVERY_S * (len(fives) + PER_LOAD - 1)))
        fives += [5 * round((load + (before - load) * 0.9**at) / 5) for at in range(PER_LOAD)]
    own = fit_of_three([b"%04d" % each for each in fives], loads)
    anothers = fit_of_three([b"%03d5" % (each // 10) for each in fives], loads)
    assert total_cost(own) > total_cost(anothers) + 1.0


def test_halves_below_whole_grams_are_read_with_them():
    """One of the loads is a little heavier than was typed, and makes half a gram more."""

    def packet(g: float, n: int) -> bytes:
        digits = bytes.fromhex(f"{50 * round(abs(g) / 0.5):08d}")
        data = b"\x61\x00" + digits + bytes([0xE0, n % 251])
        return data + xor(data)

    heard = captured(packet, (0.0, 100.0, 300.3, 1000.0), 0.02, "ble")
    found = learn(heard.with_loads((0.0, 100.0, 300.0, 1000.0)))
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.5, 3)) == [pytest.approx(123.5)]

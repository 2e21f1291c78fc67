"""A float that says how much, and a sign that stands elsewhere: its own sign bit is never set."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
import pytest

from drivers.learn.numbers.number import Number
from drivers.learn.signs.sign_places import how_well
from tests.drivers.learn.signs.test_lifted_off import learned as learned_lifted
from tests.drivers.learn.small import LOADS, captured, fitted, learned, reads, summed


def _checked(data: bytes) -> bytes:
    return data + summed(data)


def _sign_byte(g: float, n: int) -> bytes:
    return _checked(b"\xa7" + struct.pack("<f", abs(g)) + bytes([n % 251, 0x2D if g < 0 else 0x20]))


def _bit_of_flags(g: float, n: int) -> bytes:
    flags = 0x41 | 0x10 * (g < 0) | 0x04 * (n % 160 > 9)
    return _checked(b"\xa7" + bytes([flags, n % 251]) + struct.pack(">f", abs(g)))


def _its_own(g: float, n: int) -> bytes:
    return _checked(b"\xa7" + struct.pack("<f", g) + bytes([n % 251, 0x2D if n % 7 else 0x20]))


@pytest.mark.parametrize("packet", [_sign_byte, _bit_of_flags, _its_own])
@pytest.mark.parametrize("digits", [1, None], ids=["tenths", "as fine as can be"])
def test_a_float_goes_below_nought_with_what_is_set_there(packet: Callable[[float, int], bytes], digits):
    def shown(g: float, n: int) -> bytes:
        return packet(round(g, digits) if digits else g, n)

    found = learned(shown, noise_g=0.2)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-12.5, 3), packet(12.5, 4)) == pytest.approx([-12.5, 12.5], abs=1e-3)


@pytest.mark.parametrize("packet", [_sign_byte, _bit_of_flags])
def test_a_vessel_that_is_lifted_off_shows_the_sign_of_a_float(packet: Callable[[float, int], bytes]):
    found = learned_lifted(lambda tenths, at: packet(tenths / 10, at))
    assert found.is_sure, found.reasons
    assert reads(found, packet(-432.5, 3), packet(432.5, 4)) == pytest.approx([-432.5, 432.5], abs=1e-3)


@pytest.mark.parametrize("kinds", [(1000, 1999), (100, 999)], ids=["nine on top", "eight on top"])
def test_digits_go_on_below_a_sign_bit_whichever_digit_it_stands_on(kinds: tuple[int, int]):
    """With a digit of one below it, the bit makes a nine of the highest, which is no mark of its own."""
    per_g = 5 if kinds[0] == 1000 else 2

    def packet(value: int, at: int) -> bytes:
        digits = int(f"{abs(value):04d}", 16) | (value < 0) << 15
        return _checked(bytes([0x66, at % 251]) + digits.to_bytes(2, "big"))

    found = learned_lifted(packet, per_g=per_g)
    assert found.is_sure, found.reasons
    assert reads(found, packet(-20 * per_g, 1), packet(-290 * per_g, 1)) == pytest.approx([-20.0, -290.0])


def test_noughts_of_a_float_that_goes_in_no_steps_are_not_below_nought():
    """A byte that is one thing while the pan is empty, and another from then on, is no sign of it."""
    capture = captured(lambda g, n: struct.pack("<f", g / 3.0) + bytes([n % 251]), LOADS, 0.0, "ble")
    one = fitted(capture, Number("float", 0, 4, "little"))
    assert one.grid == 0.0
    values = one.number.values(one.kind.frames)
    is_early, loaded = np.arange(values.size) < 46, np.concatenate(one.kind.settled[1:])
    assert how_well(values, is_early, loaded, loaded[:0], 500.0 / 3.0, one, 1) <= 0.0

"""A highest byte that is another number's, or a sign, where the number has room without it."""

from __future__ import annotations

import struct

import pytest

from drivers.learn.numbers.number import Number
from drivers.learn.widths.wider import settle_width
from tests.drivers.learn.small import captured, fitted, learned, reads, xor


def test_the_upper_byte_of_coarse_grams_before_a_number_is_left_alone():
    """Nothing goes beyond 255 g, and below nought both are filled with ones."""

    def packet(g: float, n: int) -> bytes:
        data = b"\xa1" + struct.pack("<h", round(g)) + struct.pack(">hB", round(2 * g), n % 256)
        return data + xor(data)

    found = learned(packet, (0.0, 156.5, 206.5, -192.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(420.5, 3), packet(-300.0, 4)) == [420.5, -300.0]


@pytest.mark.parametrize("minus", [0x01, 0xFF])
def test_a_highest_byte_that_a_number_jumps_with_once_is_its_sign(minus):
    def packet(g: float, n: int) -> bytes:
        tenths = -2 if n == 90 else max(0, round(10 * g))
        data = b"\x7f\x1d\x04" + struct.pack("<HB", abs(tenths), minus if tenths < 0 else 0) + b"\x00"
        return data + xor(data)

    found = learned(packet, noise_g=0.0)
    assert reads(found, b"\x7f\x1d\x04\x07\x01" + bytes([minus, 0, 0x7F ^ 0x1D ^ 4 ^ 7 ^ 1 ^ minus])) == [
        -26.3
    ]


def test_a_number_keeps_the_highest_byte_that_a_heavy_load_needs():
    def packet(g: float, n: int) -> bytes:
        data = b"\x7f\x1d" + struct.pack(">i", round(100 * g))
        return data + xor(data)

    found = learned(packet, (0.0, 50.0, 100.0, 200.0), 0.02)
    assert reads(found, packet(3456.78, 3), packet(-300.0, 4)) == [3456.78, -300.0]


def test_a_flag_of_motion_above_a_single_byte_is_no_sign_of_it():
    """With it, the number goes to and fro through nought, which nothing on the pan does."""
    loads = (800.0, 500.0, 900.0, 640.0)

    def packet(g: float, n: int) -> bytes:
        is_emptied = 0 < n % 160 < 8 and n > 160
        tens, flag = round((90.0 if is_emptied else g) / 10), 0x80 * (is_emptied and n % 2)
        return bytes([0x02, n % 251, tens, flag, 0x1F])

    capture = captured(packet, loads, 1.0, "ble")
    tens = fitted(capture, Number("integer", 2, 1))
    assert settle_width(tens, capture.loads, "weight").number.width == 1

"""Bare counts that are negative far below an empty pan only: a sign beside them, and room for it."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads

_DIP = range(20, 60)


def lifted_off(g: float, n: int) -> float:
    """Take a tared cup of 300 g off the pan for a while, before the first load has settled."""
    if n not in _DIP:
        return g
    return g - 300.0 * (1.0 - 0.6 ** min(n - _DIP.start + 1, _DIP.stop - n))


def test_counts_with_a_sign_beside_them_are_reflected_at_their_own_nought():
    def packet(g: float, n: int) -> bytes:
        counts = round(372.75 * lifted_off(g, n)) + 57179
        return (
            b"\x55\xeb" + abs(counts).to_bytes(3, "big") + bytes([n // 3 % 256, 0xA0 | 0x10 * (counts < 0)])
        )

    found = learned(packet, noise_g=0.01)
    assert found.is_sure, found.reasons
    below = b"\x55\xeb" + (48207).to_bytes(3, "big") + b"\x07\xb0"
    assert reads(found, below) == [pytest.approx((-48207 - 57179) / 372.75, abs=0.05)]


def test_counts_that_end_a_little_below_an_empty_pan_go_on_in_the_byte_above():
    def packet(g: float, n: int) -> bytes:
        return b"\x93" + (72489 + round(27.9 * g)).to_bytes(3, "big") + bytes([n % 256])

    found = learned(packet, (0.0, 500.0, 1000.0, 200.0), 0.02)
    heavy = b"\x93" + (72489 + round(27.9 * 2200)).to_bytes(3, "big") + b"\x07"
    assert reads(found, heavy) == [pytest.approx(2200.0, abs=0.2)]

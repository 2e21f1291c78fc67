"""Sums and exclusive or, where hardly anything tells them apart."""

from __future__ import annotations

import struct

import pytest

from tests.drivers.learn.small import learned, summed, xor


@pytest.mark.parametrize("check", [summed, xor])
def test_a_sum_over_a_byte_that_changes_at_a_time_may_be_an_exclusive_or(check):
    """A sign of minus nought, and a weight in one byte: no two bits have met."""

    def packet(g: float, n: int) -> bytes:
        steps = max(round(g), 0)
        data = struct.pack("<HB", steps, 0xFF * (steps == 0 and n % 9 == 4))
        return b"\x02\x55" + data + check(data) + b"\xed"

    light = learned(packet, (200.0, 50.0, 0.0, 100.0), 0.2)
    assert not light.is_sure
    assert any("exclusive or" in reason for reason in light.reasons)
    heavy = learned(packet, (200.0, 50.0, 0.0, 100.0, 900.0), 0.2)
    assert not any("exclusive or" in reason for reason in heavy.reasons)

"""Bytes of other numbers taken for the lowest of bare counts."""

from __future__ import annotations

import random
import struct

from tests.drivers.learn.small import learned


def test_a_flow_that_is_nought_at_every_load_is_no_lowest_byte():
    rng, last_g = random.Random(6), 0.0

    def packet(g: float, n: int) -> bytes:
        nonlocal last_g
        flow, last_g = round(20 * (g - last_g)) + rng.randrange(2), g
        counts = round(g / 0.32547)
        return (
            struct.pack(">BBH", 0x31, 0xF2, counts)
            + struct.pack("<h", max(flow, 0))
            + bytes([rng.randrange(256)])
        )

    found = learned(packet, (0.0, 376.3, 742.5, 50.0), 0.001)
    assert found.choice.best is not None
    assert found.choice.best.number.end == 4

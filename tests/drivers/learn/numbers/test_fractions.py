"""Whole grams with the bytes of something else below them, and with a fraction of their own."""

from __future__ import annotations

import struct

from drivers.learn import learn
from tests.drivers.learn.small import captured, learned, reads, rested

LOADS = (0.0, 239.0, 935.0, 200.0)


def of_stopwatch(tenths_s: int, flags: int, weight_g: float) -> bytes:
    return struct.pack(">HB", tenths_s, flags) + struct.pack("<h", round(weight_g))


def test_a_stopwatch_and_flags_are_no_fraction_of_whole_grams():
    shown_g = 0.0

    def packet(weight_g: float, n: int) -> bytes:
        nonlocal shown_g
        before_g, shown_g = shown_g, 0.5 * (shown_g + weight_g)
        flags = 0x20 if abs(shown_g - before_g) > 2.0 else 0x10
        return of_stopwatch(0xF31A + max(0, n - 160) * 3 // 4, flags, shown_g)

    found = learn(rested(captured(packet, LOADS, 0.6, "ble")))
    best = found.choice.best
    assert best is not None
    assert (best.number.offset, best.number.width) == (3, 2)
    assert found.is_sure, found.reasons
    assert reads(found, of_stopwatch(0xF500, 0x20, 321.0)) == [321.0]


def test_a_fraction_that_begins_again_with_each_gram_is_kept():
    found = learned(lambda g, n: struct.pack(">BiB", 0xA5, round(65536 * g), n % 256), LOADS, 0.05)
    best = found.choice.best
    assert best is not None
    assert best.number.width > 2

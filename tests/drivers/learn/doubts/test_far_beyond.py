"""Readings far beyond all loads: some by damage, one by one; others one behind the other, as a pan moves."""

from __future__ import annotations

import struct

import pytest

from drivers.described import described_by
from drivers.learn import Arrival, Capture, Load, Stream
from drivers.learn.description.proving import prove
from tests.drivers.learn.small import UUID

WRONG_SIGN = f"""
name = "a"
kind = "ble"
[ble]
notify = ["{UUID}"]
[[frame]]
length = 4
[[frame.field]]
holds = "weight"
offset = 1
width = 2
order = "little"
signed = "twos-complement"
scale = 0.1
unit = "g"
"""


@pytest.mark.parametrize(
    ("below", "in_row"),
    [
        pytest.param({40: 168, 41: 309, 42: 252}, 2, id="a vessel lifted off, its sign in the highest bit"),
        pytest.param({40: 168, 60: 1000, 90: 9}, 0, id="damage"),
    ],
)
def test_what_goes_on_from_one_packet_to_the_next_is_no_damage(below: dict[int, int], in_row: int):
    arrivals, loads = [], (0.0, 142.9, 501.0, 631.3)
    for n in range(120):
        counts = 0x8000 | below[n] if n in below else round(10 * loads[n // 30])
        arrivals.append(Arrival(0.1 * n, 0, struct.pack("<BHB", 0x99, counts, n)))
    spans = tuple(Load(load, 3.0 * at, 3.0 * at + 2.9) for at, load in enumerate(loads))
    capture = Capture("ble", (Stream(UUID),), tuple(arrivals), spans)
    proof = prove(described_by(WRONG_SIGN, "a"), capture, 5.0)
    assert (proof.readings, proof.beyond, proof.beyond_in_row) == (120, len(below), in_row)

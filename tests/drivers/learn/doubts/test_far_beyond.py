"""Readings far beyond all loads: some by damage, one by one; others one behind the other, as a pan moves."""

from __future__ import annotations

import struct

import pytest

from drivers.described import described_by
from drivers.learn import Arrival, Capture, Load, Stream
from drivers.learn.description.proving import prove
from tests.drivers.learn.small import UUID

TWOS_COMPLEMENT = f"""
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
    proof = prove(described_by(TWOS_COMPLEMENT, "a"), capture, 5.0)
    assert (proof.readings, proof.beyond, proof.beyond_in_row) == (120, len(below), in_row)


def proof_of(readings_g: list[float]) -> tuple[int, int]:
    """Prove readings at 10 Hz, of which the first and the last ten are of no load and of 200 g."""
    all_g = [0.0] * 10 + readings_g + [200.0] * 10
    arrivals = tuple(
        Arrival(0.1 * n, 0, struct.pack("<BhB", 0x99, round(10 * each), n)) for n, each in enumerate(all_g)
    )
    last_s = 0.1 * len(all_g)
    loads = (Load(0.0, 0.0, 0.95), Load(200.0, last_s - 1.05, last_s))
    proof = prove(described_by(TWOS_COMPLEMENT, "a"), Capture("ble", (Stream(UUID),), arrivals, loads), 5.0)
    return proof.beyond, proof.beyond_in_row


LIFTED = [
    -60.0,
    -125.0,
    -195.0,
    -267.0,
    -311.0,
    -328.0,
    -339.0,
    -339.0,
    -331.0,
    -279.0,
    -215.0,
    -120.0,
    -40.0,
    30.0,
    110.0,
]


def test_a_tared_cup_that_is_heavier_than_the_loads_is_lifted_step_by_step():
    assert proof_of(LIFTED) == (0, 0)


def test_what_jumps_there_is_far_beyond_also_while_a_cup_is_lifted():
    damaged = [*LIFTED[:5], 2900.0, *LIFTED[5:]]
    assert proof_of(damaged) == (1, 0)


def test_what_jumps_there_and_stays_is_far_beyond():
    assert proof_of([-330.0, -339.0, -339.0, -331.0]) == (4, 3)

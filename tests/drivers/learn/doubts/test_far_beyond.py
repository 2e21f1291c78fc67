"""Readings far beyond all loads: some by damage, one by one; others one behind the other, as a pan moves."""

from __future__ import annotations

import struct

import pytest

from drivers.described import described_by
from drivers.learn import Arrival, Capture, Learned, Load, Stream
from drivers.learn.description.proving import prove
from tests.drivers.learn.small import UUID, learned, reads, xor

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


def checked(counts: int, n: int, *damaged: int) -> bytes:
    """Make a frame with an exclusive or, which does not see a bit that is another one in two of its bytes.

    :param damaged: bits of the counts' upper byte
    """
    body = (
        struct.pack("<BBBB", 0xA5, 0x5A, 0x3C, 0x02)
        + counts.to_bytes(3, "little", signed=True)
        + bytes([n % 256])
    )
    data = bytearray(body + xor(body))
    for bit in damaged:
        data[6] ^= bit
        data[8] ^= bit
    return bytes(data)


def told(learned_: Learned) -> str:
    return " ".join(learned_.reasons)


def test_damage_that_a_weak_check_lets_pass_is_another_one_each_time():
    bits = {33: 0x10, 250: 0x40}
    refused = range(20, 640, 45)

    def frame(g: float, n: int) -> bytes:
        data = checked(round(10 * g), n, *([bits[n]] if n in bits else []))
        return data[:-1] + b"\0" if n in refused and n not in bits else data

    found = learned(frame, link="serial")
    assert found.proof is not None
    assert found.proof.beyond == 2
    assert found.is_sure, found.reasons


@pytest.mark.parametrize("link", ["serial", "ble"])
def test_what_is_off_by_as_much_each_time_may_be_a_sign_or_a_flag(link):
    found = learned(lambda g, n: checked(round(100 * g), n, *([0x50] if n in (33, 250) else [])), link=link)
    assert not found.is_sure
    assert "2 of 640 readings are far beyond all loads" in told(found)


def test_more_than_a_share_of_what_is_damaged_is_no_chance():
    bits = {33 + 50 * at: 1 << at for at in range(3, 8)}
    found = learned(lambda g, n: checked(round(10 * g), n, *([bits[n]] if n in bits else [])), link="serial")
    assert not found.is_sure
    assert "readings are far beyond all loads" in told(found)


def test_a_frame_that_breaks_off_and_repeats_its_beginning_in_the_next_is_out_of_step():
    """Its first four bytes and those of the next one are a frame whose exclusive or is right."""

    def frame(g: float, n: int) -> bytes:
        body = struct.pack("<BBBB", 0x5A, 0xA5, 0x3C, 0x02) + (round(10 * g) + 0x800000).to_bytes(3, "little")
        data = body + xor(body)
        other = b"\x55" + bytes([n % 256])
        return data[:4] if n in (200, 340, 380) else data[:-1] + b"\0" if n % 45 == 20 else data + other

    found = learned(frame, link="serial")
    assert found.proof is not None
    assert found.proof.beyond == 3
    assert found.is_sure, found.reasons


def test_a_vessel_that_is_heavier_than_all_loads_may_be_lifted_off():
    depths = {n: -40.0 * min(n - 330, 348 - n, 8) for n in range(330, 349)}

    def packet(g: float, n: int) -> bytes:
        body = struct.pack("<Bfb", 0xA5, depths.get(n, g), n % 100)
        return body + bytes([sum(body) % 256, 7 * sum(body) % 256])

    found = learned(packet, (0.0, 20.0, 100.0, 50.0), noise_g=0.02)
    assert found.is_sure, found.reasons


@pytest.mark.parametrize("often", [8, 3])
def test_messages_of_another_kind_hold_no_number_and_need_none(often):
    def frame(g: float, n: int) -> bytes:
        text = b"b%02d%% ok" % (80 - n // 100) if n % often == 0 else b"w%7.1f" % g
        data = b"\xa5" + text
        return data + xor(data)

    found = learned(frame, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, frame(12.3, 1), frame(45.6, 2), link="serial") == [12.3, 45.6]

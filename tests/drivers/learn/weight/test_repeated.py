"""Messages of a state that repeat the weight now and then, beside those that it is sent by."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from dataclasses import replace

import pytest

from drivers.learn import Arrival, Capture, Load, Stream, learn
from drivers.learn.learning import Learned
from tests.drivers.learn.small import OTHER, UUID, captured, reads, xor

LOADS = (0.0, 100.0, 250.0, 500.0)
PERIOD_S, DWELL_S = 0.1, 15.0

Packets = Callable[[int, int], list[tuple[int, bytes]]]
"""What is sent at one moment, with the characteristic: of a weight in tenths of a gram and a number."""


def heard(packets: Packets) -> Capture:
    """Hear an instrument that follows four loads with a time constant of half a second."""
    rng, arrivals, spans = random.Random(7), [], []
    shown_g, per_load = 0.0, round(DWELL_S / PERIOD_S)
    for at, load in enumerate(LOADS):
        for n in range(per_load):
            shown_g += 0.18 * (load - shown_g)
            time_s = DWELL_S * at + PERIOD_S * n
            sent = packets(round(10 * (shown_g + rng.gauss(0.0, 0.02))), per_load * at + n)
            arrivals += [Arrival(time_s + 0.02 * m, stream, data) for m, (stream, data) in enumerate(sent)]
        spans.append(Load(load, DWELL_S * at, DWELL_S * at + DWELL_S - PERIOD_S))
    return Capture("ble", (Stream(UUID), Stream(OTHER)), tuple(arrivals), tuple(spans))


def checked(data: bytes) -> bytes:
    return data + xor(data)


def weight(tenths: int, n: int) -> bytes:
    return checked(struct.pack(">BBBHh", 0xA5, 0x5A, 0x01, n, tenths))


def are_read(found: Learned) -> bool:
    return reads(found, weight(1234, 3), weight(-56, 4)) == [123.4, -5.6]


def test_a_message_of_the_same_length_with_the_weight_elsewhere_is_no_copy_that_lags():
    def packets(tenths: int, n: int) -> list[tuple[int, bytes]]:
        state = checked(struct.pack(">BBBhBB", 0xA5, 0x5A, 0x02, tenths, 88, n // 7 % 4))
        return [(0, weight(tenths, n)), *([(0, state)] if n % 12 == 0 else [])]

    found = learn(heard(packets))
    assert found.is_sure, found.reasons
    assert are_read(found)


@pytest.mark.parametrize("is_besides", [True, False])
def test_a_longer_message_that_repeats_the_weight_may_stay_unread_where_it_comes_besides(is_besides):
    def packets(tenths: int, n: int) -> list[tuple[int, bytes]]:
        short = struct.pack(">BhB", 0xA5, tenths, n % 256)
        longer = short + bytes([n // 9 % 5])
        if n % 5:
            return [(0, short)]
        return [(0, short), (0, longer)] if is_besides else [(0, longer)]

    found = learn(heard(packets))
    assert found.is_sure == is_besides, found.reasons
    assert ("longer messages" in " ".join(found.reasons)) == (not is_besides)


def test_the_weight_is_read_rather_than_a_message_once_a_second_that_repeats_it():
    """The weight comes as it changes; the message, though more often at rest, tells nothing between."""
    last = [-1]

    def packets(tenths: int, n: int) -> list[tuple[int, bytes]]:
        sent = [(0, struct.pack(">BBhB", 0xA5, 0x01, tenths, n % 256))] if tenths != last[0] else []
        last[0] = tenths
        if n % 10 == 0:
            sent.append((1, struct.pack(">hhB", tenths, 0, 88)))
        return sent

    capture = heard(packets)
    found = learn(capture)
    assert found.is_sure, found.reasons
    assert UUID in found.toml
    assert OTHER not in found.toml
    rare = replace(capture, arrivals=tuple(one for one in capture.arrivals if one.stream == 1))
    assert learn(rare).description is not None


def test_a_repeated_weight_goes_in_the_steps_of_that_which_comes_often():
    """A few values are multiples of anything: the message that is rare must not seem finer by that."""

    def packets(tenths: int, n: int) -> list[tuple[int, bytes]]:
        coarse = 5 * round(tenths / 5)
        rare = [(1, struct.pack(">hhB", coarse, 0, 88))] if n % 20 == 0 else []
        return [(0, struct.pack(">BBh", 0xA5, 0x01, coarse)), *rare]

    found = learn(heard(packets))
    assert UUID in found.toml
    assert OTHER not in found.toml
    assert found.choice.best is not None
    assert found.choice.best.step == pytest.approx(0.5)


@pytest.mark.parametrize("minutes", [0, 1, 2])
@pytest.mark.parametrize("loads", [(0.0, 50.0, 1000.0, 100.0), (0.0, 60.0, 500.0, 30.0)])
def test_a_timer_that_is_near_some_loads_is_no_weight(loads, minutes):
    """Its seconds and minutes stand where the weight does in other messages, and read as up to 100 g."""

    def packet(g: float, n: int) -> bytes:
        if n % 2:
            data = struct.pack("<BBBBBBhBB", 0x65, 0xD6, 0x0B, 0x01, n % 256, 0, round(10 * g), 0x18, 0)
        else:
            time = n // 7 % 60, minutes + n // 420
            data = struct.pack("<BBBBBBBBBB", 0x65, 0xD6, 0x0B, 0x03, n % 256, 0, *time, 0, 0)
        return data + xor(data)

    found = learn(captured(packet, loads, 0.05, "serial"))
    assert found.is_sure, found.reasons
    assert not found.mistakes
    data = struct.pack("<BBBBBBhBB", 0x65, 0xD6, 0x0B, 0x01, 9, 0, 1234, 0x18, 0)
    timer = struct.pack("<BBBBBBBBBB", 0x65, 0xD6, 0x0B, 0x03, 9, 0, 12, 1, 0, 0)
    read = reads(found, timer + xor(timer), data + xor(data), link="serial")
    assert [value for value in read if value is not None] == [123.4]

"""Whether another load has come to rest, seen in bytes that nobody can read yet."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable

import pytest

from drivers.learn import Arrival
from drivers.learn.listening.settling import has_settled, is_still


def packet(tenths: int, number: int) -> bytes:
    """A packet of a counter, a weight and a charge."""
    return struct.pack("<BBhB", 0x21, number % 256, tenths, 88)


def heard(load_g: Callable[[float], float], end_s: float, rate_hz: float = 20.0) -> list[Arrival]:
    times = [at / rate_hz for at in range(int(end_s * rate_hz))]
    return [
        Arrival(time_s, 0, packet(round(10 * load_g(time_s)) + at % 3, at)) for at, time_s in enumerate(times)
    ]


def step(at_s: float) -> Callable[[float], float]:
    return lambda time_s: 100.0 if time_s >= at_s else 0.0


@pytest.mark.parametrize("is_serial", [False, True])
def test_a_load_that_lies_still_has_settled(is_serial):
    assert has_settled(heard(step(5.0), 9.0), 4.5, 9.0, is_serial=is_serial)


def test_nothing_has_settled_while_it_is_still_the_load_before():
    assert not has_settled(heard(step(99.0), 9.0), 4.5, 9.0, is_serial=False)


def test_nothing_has_settled_while_it_still_moves():
    assert not has_settled(
        heard(lambda time_s: 20.0 * max(0.0, time_s - 5.0), 9.0), 4.5, 9.0, is_serial=False
    )


def test_a_brewer_may_take_a_minute():
    arrivals = heard(step(65.0), 70.0)
    assert not has_settled([one for one in arrivals if one.time_s < 64.0], 4.5, 64.0, is_serial=False)
    assert has_settled(arrivals, 4.5, 70.0, is_serial=False)


def test_the_empty_pan_wants_some_packets_and_a_while():
    arrivals = heard(step(99.0), 3.0)
    assert not is_still(arrivals, 0.0, 1.0)
    assert is_still(arrivals, 0.0, 3.0)
    assert not is_still(arrivals[:3], 0.0, 3.0)


def sent_on_change(end_s: float) -> list[Arrival]:
    """What a scale sends that says each weight once, in tenths; 100 g are put on after 30 s."""
    tenths = [round(1000.0 * (1.0 - math.exp(-max(0.1 * at - 30.0, 0.0)))) for at in range(round(10 * end_s))]
    changes = [at for at in range(len(tenths)) if not at or tenths[at] != tenths[at - 1]]
    return [Arrival(0.1 * at, 0, packet(tenths[at], n)) for n, at in enumerate(changes)]


@pytest.mark.parametrize("is_serial", [False, True])
def test_a_load_has_settled_of_which_nothing_more_is_sent(is_serial):
    assert is_still(sent_on_change(6.5), 0.0, 6.5)
    for now_s in (29.0, 31.0, 33.0):  # not there yet, and on its way
        assert not has_settled(sent_on_change(now_s), 8.0, now_s, is_serial=is_serial)
    assert has_settled(sent_on_change(44.0), 8.0, 44.0, is_serial=is_serial)
    assert has_settled(sent_on_change(95.0), 8.0, 95.0, is_serial=is_serial)
    assert not has_settled(sent_on_change(60.0), 50.0, 60.0, is_serial=is_serial)


def test_a_load_that_a_few_packets_say_has_settled():
    def sent(end_s: float, count: int) -> list[Arrival]:
        times = [0.0, *(30.0 + 0.2 * at for at in range(count))]
        every = [Arrival(time_s, 0, packet(37 * at, at)) for at, time_s in enumerate(times)]
        others = [Arrival(float(at), 1, bytes([at % 256, 7])) for at in range(round(end_s))]
        arrivals = [one for one in (*every, *others) if one.time_s < end_s]
        return sorted(arrivals, key=lambda one: one.time_s)

    assert not has_settled(sent(29.0, 8), 10.0, 29.0, is_serial=False)
    assert not has_settled(sent(32.0, 8), 10.0, 32.0, is_serial=False)
    assert has_settled(sent(36.0, 8), 10.0, 36.0, is_serial=False)
    assert not has_settled(sent(36.0, 2), 10.0, 36.0, is_serial=False)  # a key was pressed
    assert not has_settled(sent(46.0, 8), 36.0, 46.0, is_serial=False)


def test_what_comes_once_a_second_is_not_silent():
    arrivals = [Arrival(float(at), 0, packet(0 if at < 30 else 1000, at)) for at in range(60)]
    assert not has_settled(arrivals, 29.5, 60.0, is_serial=False)

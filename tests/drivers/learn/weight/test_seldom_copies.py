"""A round copy of the load that comes once a second, beside counts of a factor of their own, and often."""

from __future__ import annotations

import random
import struct
from dataclasses import replace

import pytest

from drivers.learn import Arrival, Capture, Load, Stream, learn
from drivers.learn.doubts.copy_doubts import doubts_of_copies
from drivers.learn.streams import fits_of, streams_of
from drivers.learn.weight.choosing import Choice
from tests.drivers.learn.small import UUID, captured, heard_together, xor

LOADS = (0.0, 151.66, 754.58, 239.23)


@pytest.mark.parametrize(("every", "is_told"), [(20, True), (4, False)], ids=["seldom", "often enough"])
def test_a_copy_that_comes_seldom_is_not_surely_what_is_shown(every: int, is_told: bool):
    rng, arrivals, spans = random.Random(4), [], []
    for at, load in enumerate(LOADS):
        for n in range(400):
            time_s = 20.0 * at + 0.05 * n
            shown_g = load + (LOADS[max(at - 1, 0)] - load) * 0.8**n + rng.gauss(0.0, 0.2)
            often = struct.pack(">BBf", 0x0F, n % 256, float(round(shown_g / 0.371946)))
            arrivals.append(Arrival(time_s, 0, often))
            if n % every == 0:
                arrivals.append(Arrival(time_s, 1, struct.pack(">Bi", n % 251, round(10 * shown_g))))
        spans.append(Load(load, 20.0 * at, 20.0 * at + 19.9))
    streams = (Stream(UUID), Stream(UUID.replace("fff1", "fff2")))
    capture = Capture("ble", streams, tuple(arrivals), tuple(spans))
    fits = fits_of(streams_of(capture), capture, capture.loads)
    often_one, seldom = (
        min((one for one in fits if one.kind.stream == at), key=lambda one: one.cost) for at in (0, 1)
    )
    choice = Choice(seldom, copies=((often_one, "copy"),))
    said = [text for text, _ in doubts_of_copies(choice, seldom, seldom, frozenset())]
    assert any("far more often" in text for text in said) == is_told


def test_a_coarse_copy_with_a_check_that_comes_less_often_is_not_what_is_meant():
    def checked(g: float, n: int) -> bytes:
        data = struct.pack(">BhB", 0xA7, round(g), n % 256)
        return data + xor(data)

    loads = (0.0, 200.0, 1000.0, 500.0)
    often = captured(lambda g, n: b"\x07\x01" + f"{g:8.1f}".encode(), loads, 0.04, "ble")
    coarse = captured(checked, loads, 0.0, "ble")
    found = learn(heard_together(often, replace(coarse, arrivals=coarse.arrivals[::2])))
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.step == pytest.approx(0.1)


def test_of_two_characteristics_that_send_the_same_the_one_that_sends_it_more_often_is_read():
    def text(g: float, n: int) -> bytes:
        data = bytes([0x07]) + f"{g:8.1f}".encode()
        return data + xor(data)

    def counts(g: float, n: int) -> bytes:
        data = struct.pack(">BhB", 0xA7, round(10 * g), n % 256)
        return data + xor(data)

    loads = (100.0, 300.0, 500.0, 493.0)
    seldom, often = captured(text, loads, 0.06, "ble"), captured(counts, loads, 0.06, "ble")
    found = learn(heard_together(replace(seldom, arrivals=seldom.arrivals[::2]), often))
    assert found.is_sure, found.reasons
    assert found.choice.best is not None
    assert found.choice.best.number.encoding == "integer"

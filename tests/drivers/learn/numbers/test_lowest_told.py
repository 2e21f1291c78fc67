"""Bytes below a number that are told by those above them, or are anything."""

from __future__ import annotations

import random
from collections.abc import Callable

from drivers.learn.captures.capture import Arrival, Capture, Load, Stream
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.lowest_told import is_lowest_anything, is_lowest_told
from drivers.learn.numbers.number import Number
from drivers.learn.streams import streams_of
from tests.drivers.learn.small import LOADS, UUID, xor


def told(packet: Callable[[int], bytes], per_g: float) -> bool:
    """Say whether the lowest of three bytes is told by those above, of a pan that is nearly still."""
    return is_lowest_told(fitted(packet, per_g, nought=400, noise_g=0.02))


def fitted(packet: Callable[[int], bytes], per_g: float, nought: int, noise_g: float) -> Fit:
    """Fit three bytes behind a first one to the loads of a pan."""
    rng = random.Random(3)
    arrivals = tuple(
        Arrival(12.0 * at + 0.075 * n, 0, packet(nought + round(per_g * (load + rng.gauss(0.0, noise_g)))))
        for at, load in enumerate(LOADS)
        for n in range(160)
    )
    spans = tuple(Load(load, 12.0 * at, 12.0 * at + 11.9) for at, load in enumerate(LOADS))
    kind = streams_of(Capture("ble", (Stream(UUID),), arrivals, spans))[0].kinds[0].seen_with(spans)
    assert kind is not None
    found = fit(
        kind, Number("integer", 1, 3, "big", signed="" if nought else "twos-complement"), spans, "weight"
    )
    assert found is not None
    return found


def test_a_check_below_bare_counts_is_told_by_them():
    assert told(lambda counts: b"\xa5" + (data := (counts & 0xFFFF).to_bytes(2, "big")) + xor(data), 30.92)


def test_the_lowest_byte_of_bare_counts_is_not():
    assert not told(lambda counts: b"\xa5" + (counts & 0xFFFFFF).to_bytes(3, "big"), 7915.5)


def test_a_lowest_byte_that_adds_half_a_byte_to_nought_is_anything():
    noise = random.Random(7)

    def packet(counts: int) -> bytes:
        return b"\xa5" + counts.to_bytes(2, "big", signed=True) + bytes([noise.randrange(256)])

    assert is_lowest_anything(fitted(packet, 4.0193, nought=0, noise_g=0.2))


def test_a_lowest_byte_of_its_own_begins_at_nought():
    def packet(counts: int) -> bytes:
        return b"\xa5" + counts.to_bytes(3, "big", signed=True)

    assert not is_lowest_anything(fitted(packet, 1028.9, nought=0, noise_g=0.2))

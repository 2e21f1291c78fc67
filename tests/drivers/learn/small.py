"""Small instruments, each with one awkward thing: what is learned of them, and how it reads other packets."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import reduce

from drivers.learn import Arrival, Capture, Learned, Load, Stream, learn
from drivers.learn.description.proving import decoded
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.number import Number
from drivers.learn.streams import streams_of

LOADS = (0.0, 100.0, 250.0, 500.0)
UUID, OTHER = "0000fff1-0000-1000-8000-00805f9b34fb", "0000fff2-0000-1000-8000-00805f9b34fb"
DWELL_S = 12.0


def xor(data: bytes) -> bytes:
    """Give the exclusive or of all bytes, as a check of one byte."""
    return bytes([reduce(int.__xor__, data)])


def summed(data: bytes) -> bytes:
    """Give the sum of all bytes, as a check of one byte."""
    return bytes([sum(data) % 256])


def captured(
    packet: Callable[[float, int], bytes], loads: tuple[float, ...], noise_g: float, link: str
) -> Capture:
    """Hear an instrument that makes packets, or frames, of a weight in g and a number."""
    rng, arrivals, spans = random.Random(5), [], []
    for at, load in enumerate(loads):
        before = loads[at - 1] if at else load
        for n in range(160):
            weight_g = load + (before - load) * 0.5**n + rng.gauss(0.0, noise_g)
            arrivals.append(Arrival(DWELL_S * at + 0.075 * n, 0, packet(weight_g, 160 * at + n)))
        spans.append(Load(load, DWELL_S * at, DWELL_S * at + 11.9))
    stream = Stream() if link == "serial" else Stream(UUID)
    return Capture("serial" if link == "serial" else "ble", (stream,), tuple(arrivals), tuple(spans))


def fitted(capture: Capture, number: Number) -> Fit:
    """Hold one number against the loads, in the packets of the only characteristic or line."""
    (kind,) = (one for one in streams_of(capture)[0].kinds if not one.selectors)
    seen = kind.seen_with(capture.loads)
    assert seen is not None
    found = fit(seen, number, capture.loads, capture.quantity)
    assert found is not None
    return found


def heard_together(one: Capture, other: Capture) -> Capture:
    """Put two captures together, each the stream of another characteristic."""
    second = (Arrival(each.time_s, 1, each.data) for each in other.arrivals)
    arrivals = sorted((*one.arrivals, *second), key=lambda each: each.time_s)
    return replace(one, streams=(*one.streams, Stream(OTHER)), arrivals=tuple(arrivals))


def rested(capture: Capture, rest_s: float = 2.5) -> Capture:
    """Let only the end of each load count, of an instrument that settles slowly."""
    return replace(
        capture, loads=tuple(Load(load.value, load.end_s - rest_s, load.end_s) for load in capture.loads)
    )


def learned(
    packet: Callable[[float, int], bytes],
    loads: tuple[float, ...] = LOADS,
    noise_g: float = 0.05,
    link: str = "ble",
) -> Learned:
    """Learn such an instrument."""
    return learn(captured(packet, loads, noise_g, link))


def reads(found: Learned, *packets: bytes, link: str = "ble") -> list[float | None]:
    """Read packets by what was learned; None for one that is refused."""
    assert found.description is not None, found.reasons
    arrivals = tuple(Arrival(float(at), 0, data) for at, data in enumerate(packets))
    stream = Stream() if link == "serial" else Stream(UUID)
    capture = Capture("serial" if link == "serial" else "ble", (stream,), arrivals)
    return [value for _, value in decoded(found.description, capture)]

"""A flag of rest before the weight, and a vessel lifted off in between: all below nought moves."""

from __future__ import annotations

import struct

from drivers.learn import Arrival, Capture, Stream, learn
from drivers.learn.streams import fits_of, streams_of
from drivers.learn.weight.choosing import choose
from tests.drivers.learn.signs.test_lifted_off import lifted
from tests.drivers.learn.small import UUID


def test_a_number_is_that_of_the_packets_that_a_flag_of_rest_leaves_out_as_well():
    weights, loads = lifted(0.6, off=8)
    arrivals, last_g = [], 0.0
    for at, (time_s, g) in enumerate(weights):
        g = 0.0 if abs(g) < 0.3 else g  # it follows its nought
        is_still, last_g = abs(g - last_g) < 0.5, g
        data = bytes([0x36, 0x60, 0x5C if is_still else 0x1C, at % 251]) + struct.pack("<i", round(1000 * g))
        arrivals.append(Arrival(time_s, 0, data))
    capture = Capture("ble", (Stream(UUID),), tuple(arrivals), tuple(loads))
    best = choose(fits_of(streams_of(capture), capture, capture.loads), capture.loads, "weight").best
    assert best is not None
    assert not best.kind.selectors
    assert learn(capture).is_sure

"""An unknown instrument learned from three minutes at 20 Hz with eight characteristics: 2 s are allowed.

``pytest tests/benchmarks --benchmark-only``
"""

import pytest

from drivers.learn import Arrival, Capture, Load, Stream, learn
from tests.drivers.learn import random_instruments
from tests.drivers.learn.hearing import capture_of


def three_minutes() -> Capture:
    """Four loads of 45 s each; every characteristic sends twenty packets a second."""
    for seed in range(1000):
        instrument = random_instruments.Instrument(seed, link="ble")
        if instrument.streams == 8 and instrument.number["unit"] == "g" and len(instrument.layout) > 5:
            instrument.rate_hz = 20.0
            return capture_of(instrument, instrument.session([0.0, 100.0, 250.0, 500.0], 1, 45.0))
    raise AssertionError


def hand_made() -> Capture:
    """The least that there can be: two bytes, the weight."""
    data = [(0.05 * n, (0, 1000, 2500, 5000)[n // 900]) for n in range(3600)]
    arrivals = tuple(Arrival(time_s, 0, tenths.to_bytes(2, "big")) for time_s, tenths in data)
    loads = tuple(Load(g, 45.0 * n, 45.0 * n + 44.9) for n, g in enumerate((0.0, 100.0, 250.0, 500.0)))
    return Capture("ble", (Stream("0000fff1-0000-1000-8000-00805f9b34fb"),), arrivals, loads)


@pytest.mark.benchmark(group="learning")
def test_reference_two_bytes(benchmark):
    assert benchmark(learn, hand_made()).description is not None


@pytest.mark.benchmark(group="learning")
def test_eight_characteristics(benchmark):
    assert benchmark.pedantic(learn, (three_minutes(),), rounds=3).is_sure

"""Lines per second, beside the least that any decoder must do: cut the lines, make floats of them.

``pytest tests/benchmarks --benchmark-only``
"""

import pytest

from drivers.decoders.balance_lines import BalanceLines
from drivers.decoders.line_reader import LineReader
from drivers.decoders.pattern_lines import PatternLines
from tests.peers.balance import balance_line
from tests.peers.microcontroller import microcontroller_lines

LINES = 20_000
WEIGHTS = [number / 10 for number in range(LINES)]
BALANCE = b"".join(balance_line(weight) for weight in WEIGHTS)
FREE = b"".join(microcontroller_lines(WEIGHTS, 93.5, rate_hz=10))
CHUNK = 4096


def split_and_float() -> int:
    return len([float(line.split(b",")[1]) for line in FREE.split(b"\r\n")[:-1]])


def in_chunks(decoder, data: bytes) -> int:
    reader = LineReader(decoder, "scale", "thermometer")
    for start in range(0, len(data), CHUNK):
        reader.push(start, data[start : start + CHUNK])
    return reader.lines


@pytest.mark.benchmark(group="decoders")
def test_reference_split_and_float(benchmark):
    assert benchmark(split_and_float) == LINES


@pytest.mark.benchmark(group="decoders")
def test_balance_lines(benchmark):
    assert benchmark(in_chunks, BalanceLines(), BALANCE) == LINES


@pytest.mark.benchmark(group="decoders")
def test_pattern_lines(benchmark):
    assert benchmark(in_chunks, PatternLines("time_ms,weight,temperature"), FREE) == LINES

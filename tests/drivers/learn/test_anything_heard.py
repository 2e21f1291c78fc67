"""Learning from anything at all that may be heard: it never ends with a traceback."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.learn import Arrival, Capture, Load, Stream, learn
from drivers.learn.numbers.number import Number, SignPlace
from tests.drivers.learn.small import LOADS, UUID, summed

Column = Callable[[float, int, random.Random], bytes]
"""A part of a packet, of a weight in g, the packet's number and a source of chance."""


def _in_digits(g: float, n: int, rng: random.Random) -> bytes:
    return bytes.fromhex(f"{abs(round(10 * g)):06d}")


def _halves_turned(g: float, n: int, rng: random.Random) -> bytes:
    return bytes((byte << 4 | byte >> 4) & 0xFF for byte in _in_digits(g, n, rng))


def _now_and_then(g: float, n: int, rng: random.Random) -> bytes:
    return struct.pack(">h", round(g) if rng.random() < 0.1 else rng.randrange(999))


COLUMNS: dict[str, Column] = {
    "steps": lambda g, n, rng: struct.pack(">i", round(100 * g)),
    "few steps": lambda g, n, rng: struct.pack("<h", round(g)),
    "words": lambda g, n, rng: struct.pack("<hH", *divmod(round(g), 2**16)),
    "words, the lower first": lambda g, n, rng: struct.pack(">Hh", round(g) % 2**16, round(g) // 2**16),
    "float": lambda g, n, rng: struct.pack("<f", g),
    "nothing or infinite": lambda g, n, rng: struct.pack(">f", rng.choice((g, float("nan"), float("inf")))),
    "digits": _in_digits,
    "digits, lower half first": _halves_turned,
    "text": lambda g, n, rng: f"{g:8.1f}".encode(),
    "text of any length": lambda g, n, rng: f"{g:.2f}".encode(),
    "hex": lambda g, n, rng: f"{round(20 * abs(g)):06X}".encode(),
    "now and then": _now_and_then,
    "counter": lambda g, n, rng: bytes([n % 256]),
    "number of the line": lambda g, n, rng: str(224_270 + n).encode(),
    "mark": lambda g, n, rng: b"\xa7",
    "sign": lambda g, n, rng: b"-" if g < 0 else b"+",
    "anything": lambda g, n, rng: rng.randbytes(2),
    "nothing": lambda g, n, rng: b"",
    "of any length": lambda g, n, rng: rng.randbytes(rng.randrange(4)),
}  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(
    columns=st.lists(st.sampled_from(sorted(COLUMNS)), min_size=1, max_size=7),
    between=st.sampled_from([b"", b",", b" ", b"\t"]),
    end=st.sampled_from([b"", b"\r\n", b"\r", b"\x03", None]),
    link=st.sampled_from(["ble", "serial"]),
    each=st.integers(1, 60),
    noise_g=st.sampled_from([0.0, 0.1, 30.0]),
    loads=st.permutations(LOADS),
    damaged=st.sampled_from([0.0, 0.02, 0.5]),
    seed=st.integers(0, 1000),
)
def test_whatever_is_heard_is_learned_or_not(
    columns: Sequence[str], between: bytes, end: bytes | None, link: str, each: int, noise_g: float,
    loads: Sequence[float], damaged: float, seed: int,
):  # fmt: skip
    rng, arrivals, spans = random.Random(seed), [], []
    for at, load in enumerate(loads):
        for n in range(each):
            g = load + rng.gauss(0.0, noise_g)
            data = between.join(COLUMNS[name](g, each * at + n, rng) for name in columns)
            data += summed(data) if end is None else end
            if rng.random() < damaged and data:
                data = data[: rng.randrange(len(data))] + rng.randbytes(rng.randrange(3))
            if data:
                arrivals.append(Arrival(12.0 * at + 11.0 * n / each, 0, data))
        spans.append(Load(load, 12.0 * at, 12.0 * at + 11.5))
    stream = Stream() if link == "serial" else Stream(UUID)
    found = learn(Capture(link, (stream,), tuple(arrivals), tuple(spans)))
    assert found.reasons
    assert found.description is not None or not found.is_sure


@pytest.mark.parametrize("encoding", ["integer", "bcd", "digits", "ascii", "hex", "float"])
@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("sign", [None, SignPlace(0, 0x80, (1,))])
@pytest.mark.parametrize("decimals_at", [-1, 0])
def test_no_frames_hold_no_numbers(encoding: str, swapped: bool, sign: SignPlace | None, decimals_at: int):
    number = Number(encoding, 1, 4, swapped=swapped, sign=sign, decimals_at=decimals_at)
    assert number.values(np.zeros((0, 6), dtype=np.uint8)).shape == (0,)

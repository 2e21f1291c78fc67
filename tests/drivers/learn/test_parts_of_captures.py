"""Learning from what is left of a capture: it says that it is unsure, and never ends with a traceback."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from types import ModuleType

import pytest

from drivers.learn import Arrival, learn
from tests.drivers.learn import (
    fielded_instruments,
    layered_instruments,
    random_instruments,
    shuffled_instruments,
)
from tests.drivers.learn.hearing import capture_of
from tests.drivers.learn.small import DWELL_S

Left = Callable[[Sequence[Arrival], random.Random], list[Arrival]]


def few(arrivals: Sequence[Arrival], rng: random.Random) -> list[Arrival]:
    """One in seven, as from a radio that hardly reaches."""
    return [one for one in arrivals if rng.random() < 0.15]


def cut_short(arrivals: Sequence[Arrival], rng: random.Random) -> list[Arrival]:
    """Nothing after some moment: the link has dropped."""
    return list(arrivals[: rng.randrange(1, len(arrivals))])


def silent(arrivals: Sequence[Arrival], rng: random.Random) -> list[Arrival]:
    """Nothing for 3 to 25 s."""
    from_s, lasts_s = rng.uniform(0.0, arrivals[-1].time_s), rng.uniform(3.0, 25.0)
    return [one for one in arrivals if not from_s < one.time_s < from_s + lasts_s]


def only_as_it_changes(arrivals: Sequence[Arrival], rng: random.Random) -> list[Arrival]:
    """What comes in the first moments after each load has been laid on."""
    lasts_s = rng.choice((0.5, 1.5, 3.0))
    return [one for one in arrivals if one.time_s % DWELL_S < lasts_s]


def damaged(arrivals: Sequence[Arrival], rng: random.Random) -> list[Arrival]:
    """One byte in fifty has a bit turned."""

    def turned(byte: int) -> int:
        return byte ^ (1 << rng.randrange(8)) if rng.random() < 0.02 else byte

    return [replace(one, data=bytes(map(turned, one.data))) for one in arrivals]


@pytest.mark.parametrize("left", [few, cut_short, silent, only_as_it_changes, damaged])
@pytest.mark.parametrize(
    "kind", [fielded_instruments, layered_instruments, random_instruments, shuffled_instruments]
)
@pytest.mark.parametrize("seed", [6062, 8001, 8036])
def test_what_is_left_is_learned_or_not(kind: ModuleType, left: Left, seed: int):
    rng, instrument = random.Random(seed), kind.Instrument(seed)
    session = instrument.session(kind.random_loads(rng, rng.choice((3, 4))), 3 * seed + 1)
    capture = capture_of(instrument, session)
    found = learn(replace(capture, arrivals=tuple(left(capture.arrivals, rng))))
    assert found.reasons
    assert found.description is not None or not found.is_sure

"""Instruments that send a weight as it changes, and nothing more while it rests: the last packet stands."""

from __future__ import annotations

import random
import struct
from dataclasses import replace
from itertools import pairwise
from types import ModuleType

import numpy as np
import pytest

from drivers.learn import Capture, Load, learn
from drivers.learn.packets.kinds import Kind, falls_silent, settled_rows
from tests.drivers.learn import fielded_instruments, layered_instruments, shuffled_instruments
from tests.drivers.learn.hearing import capture_of
from tests.drivers.learn.small import DWELL_S, LOADS, OTHER, UUID, captured, heard_together, reads, xor


def packet(g: float, n: int) -> bytes:
    """A packet of a weight in tenths of a gram, a temperature and a check."""
    data = struct.pack(">BBhB", 0xA5, 0x5A, round(10 * g), 0xE0 + n // 200)
    return data + xor(data)


def on_change(link: str, loads: tuple[float, ...] = LOADS) -> Capture:
    """Hear such an instrument only when the weight that it shows is another one."""
    every = captured(packet, loads, 0.0, link)
    before, kept = b"", []
    for one in every.arrivals:
        if one.data[2:4] != before:
            kept.append(one)
        before = one.data[2:4]
    return replace(every, arrivals=tuple(kept))


@pytest.mark.parametrize("link", ["ble", "serial"])
def test_the_last_weight_before_a_silence_is_the_load(link):
    capture = on_change(link)
    resting = [one for one in capture.arrivals if one.time_s % DWELL_S > 3.0]
    assert not resting
    found = learn(capture)
    assert found.is_sure, found.reasons
    assert not found.mistakes
    assert reads(found, packet(123.4, 0), packet(-5.6, 1), link=link) == [123.4, -5.6]


def test_a_load_typed_wrongly_is_said_of_what_is_silent_at_rest_too():
    capture = on_change("ble", (0.0, 100.0, 250.0, 500.0, 700.0))
    found = learn(capture.with_loads((0.0, 100.0, 520.0, 500.0, 700.0)))
    assert not found.is_sure
    assert "520" in " ".join(found.mistakes)


def test_a_weight_that_is_silent_is_not_asked_to_come_as_often_as_counts_beside_it():
    """Counts of a converter come all the time; the weight comes as often while it changes."""
    rng = random.Random(3)

    def counts(g: float, n: int) -> bytes:
        return struct.pack(">I", 1_234_567 + round(431.7 * g + rng.gauss(0.0, 40.0)))

    found = learn(heard_together(on_change("ble"), captured(counts, LOADS, 0.0, "ble")))
    assert found.is_sure, found.reasons
    assert reads(found, packet(123.4, 0)) == [123.4]
    assert OTHER not in found.toml
    assert UUID in found.toml


def test_what_comes_at_even_times_however_seldom_is_not_silent():
    load = Load(100.0, 0.0, 20.0)
    seldom = np.arange(0.5, 20.0, 5.0)
    assert settled_rows(seldom, load).tolist() == [2, 3]
    quick = np.arange(0.5, 3.0, 0.1)
    assert settled_rows(quick, load).tolist() == [quick.size - 1] * 4
    assert falls_silent(quick, 3.0, 20.0)
    assert not falls_silent(quick, 3.0, 3.5)
    assert settled_rows(quick + 21.0, load).size == 0


def test_packets_that_a_code_of_rest_replaces_are_not_silent():
    times = np.arange(0.0, 40.0, 0.1)
    rests = (times % 20.0) > 3.0
    frames = np.zeros((times.size, 4), dtype=np.uint8)
    frames[:, 0] = np.where(rests, 0x51, 0x50)
    whole = Kind(0, times, frames)
    moving = replace(
        whole, time_s=times[~rests], frames=frames[~rests], selectors=((0, 0x50),), part_of=whole
    )
    loads = (Load(0.0, 0.0, 20.0), Load(100.0, 20.0, 40.0))
    assert moving.seen_with(loads) is None
    alone = replace(moving, selectors=(), part_of=None).seen_with(loads)
    assert alone is not None
    assert [rows.size for rows in alone.settled] == [4, 4]


@pytest.mark.parametrize("seed", [*range(5000, 5008), 5038])
@pytest.mark.parametrize("kind", [fielded_instruments, layered_instruments, shuffled_instruments])
def test_whatever_falls_silent_is_learned_or_not(kind: ModuleType, seed: int):
    """Of any instrument, what comes while its weight changes by a third of a gram at a time, alone."""
    instrument = kind.Instrument(seed)
    session = instrument.session(kind.random_loads(random.Random(seed), 4), 3 * seed + 1)
    shown = [(one.time_s, one.shown_g) for one in session.sent if one.shown_g is not None]
    moves_s = [now_s for (_, before_g), (now_s, g) in pairwise(shown) if abs(g - before_g) > 0.3]
    moves_s.append(shown[0][0])
    capture = capture_of(instrument, session)
    come = [one for one in capture.arrivals if any(0.0 <= s - one.time_s < 0.12 for s in moves_s)]
    found = learn(replace(capture, arrivals=tuple(come)))
    assert found.reasons

"""Bytes of other numbers taken for the lowest of bare counts."""

from __future__ import annotations

import random
import struct

import numpy as np
import pytest

from drivers.learn import Load, learn
from drivers.learn.numbers.foreign import has_foreign_byte, has_foreign_byte_in
from drivers.learn.numbers.number import Number
from drivers.learn.packets.kinds import Kind
from tests.drivers.learn.small import captured, learned, reads, rested


def test_a_flow_that_is_nought_at_every_load_is_no_lowest_byte():
    rng, last_g = random.Random(6), 0.0

    def packet(g: float, n: int) -> bytes:
        nonlocal last_g
        flow, last_g = round(20 * (g - last_g)) + rng.randrange(2), g
        counts = round(g / 0.32547)
        return (
            struct.pack(">BBH", 0x31, 0xF2, counts)
            + struct.pack("<h", max(flow, 0))
            + bytes([rng.randrange(256)])
        )

    found = learned(packet, (0.0, 376.3, 742.5, 50.0), 0.001)
    assert found.choice.best is not None
    assert found.choice.best.number.end == 4


def test_the_lowest_byte_of_a_number_that_rises_slowly_is_its_own():
    shown_g = 0.0

    def packet(g: float, n: int) -> bytes:
        nonlocal shown_g
        shown_g += min(max(g - shown_g, -6.0), 6.0)
        return struct.pack("<BHB", 0x36, max(round(shown_g / 0.28349523125), 0), n % 256)

    found = learn(rested(captured(packet, (0.0, 300.0, 268.7, 961.2), 0.06, "ble")))
    best = found.choice.best
    assert best is not None
    assert (best.number.offset, best.number.width) == (1, 2)
    assert found.is_sure, found.reasons


def test_a_lowest_byte_that_rests_within_a_quarter_of_its_range_may_be_its_own():
    """Of four loads, that is chance in one case of a hundred."""

    def packet(g: float, n: int) -> bytes:
        return b"\x3c\xef" + (21184 + round(522.753 * g)).to_bytes(4, "little") + bytes([n % 256])

    found = learned(packet, (0.0, 640.0, 150.3, 20.0), 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, packet(777.7, 3)) == [pytest.approx(777.7, abs=0.05)]


@pytest.mark.parametrize(("step", "is_foreign"), [(100.0, False), (1.0, True)], ids=["leaps", "anything"])
def test_a_lowest_byte_leaps_where_a_display_s_step_is_many_counts(step: float, is_foreign: bool):
    """Of tenths in thousandths, the lowest of four bytes is 28, 128, 228, while those above it stand."""
    rng = np.random.default_rng(4)
    counts = [100 * (tenths + rng.integers(-1, 2, 60)) for tenths in (480, 15310)]
    frames = np.concatenate(counts).astype("<i4").view(np.uint8).reshape(-1, 4)
    kind = Kind(0, 0.1 * np.arange(120), frames, settled=(np.arange(60), np.arange(60, 120)))
    assert has_foreign_byte(kind, Number("integer", 0, 4, "little"), step) == is_foreign


def test_a_lowest_byte_that_noise_spreads_nearly_evenly_is_a_number_s_own():
    def packet(g: float, n: int) -> bytes:
        return b"\x5a\x3c" + bytes([n % 256]) + struct.pack(">i", 57_972 - round(652.4 * g))

    found = learned(packet, (0.0, 20.0, 500.0, 250.0), 0.1)
    assert found.choice.best is not None
    assert abs(found.choice.best.slope) == pytest.approx(652.4, rel=1e-3)


def test_the_last_digits_of_a_number_are_no_lowest_byte_of_a_copy_behind_them():
    """Weights of 0 to 30 g in steps of its own, and what a filter makes of them ten packets later."""
    counts = np.round(375.0 * (1.0 - np.cos(np.arange(400) / 40.0))).astype(np.int64)
    rows = [
        bytes.fromhex(f"{now:06d}") + struct.pack("<H", late)
        for now, late in zip(counts[10:], counts, strict=False)
    ]
    frames = np.frombuffer(b"".join(rows), dtype=np.uint8).reshape(-1, 5)
    kind, good = Kind(0, 0.1 * np.arange(len(frames)), frames), np.ones(len(frames), dtype=bool)
    assert has_foreign_byte_in(kind, Number("integer", 2, 3, "little"), good)
    assert not has_foreign_byte_in(kind, Number("integer", 3, 2, "little"), good)
    assert not has_foreign_byte_in(kind, Number("bcd", 0, 3), good)


@pytest.mark.parametrize(("behind", "is_another"), [(138, True), (0, False)])
def test_digits_behind_a_comma_whose_first_one_stays_are_a_timer_and_no_decimals(
    behind: int, is_another: bool
):
    wholes = [0] * 60 + list(range(0, 4000, 100)) + [4000] * 60
    fives = [behind + n // 40 if is_another else 7919 * n * n % 100_000 for n in range(len(wholes))]
    lines = [b"%07d,%05d" % both for both in zip(wholes, fives, strict=True)]
    frames = np.frombuffer(b"".join(lines), dtype=np.uint8).reshape(len(lines), -1)
    loads = (Load(0.0, 0.0, 5.9), Load(125.0, 10.0, 15.9))
    kind = Kind(0, 0.1 * np.arange(len(lines)), frames).seen_with(loads)
    assert kind is not None
    assert has_foreign_byte(kind, Number("ascii", 0, 13), 1.0) == is_another


@pytest.mark.parametrize("order", ["big", "little"])
def test_flags_are_no_lowest_digits_of_a_number_whose_digits_go_in_fives(order: str):
    """They are two digits each as well, and would stand still in what a display shows in steps of 5 g."""
    grams = np.repeat([0, 185, 420, 975, 15, 110, 205, 700, 845, 1050, 60], 10)
    flags = np.where(np.arange(grams.size) % 10 < 2, 0x60, 0x20)
    rows = [bytes.fromhex(f"{g:04d}") for g in grams.tolist()]
    rows = [row + bytes([flag]) for row, flag in zip(rows, flags.tolist(), strict=True)]
    frames = np.frombuffer(b"".join(row if order == "big" else row[::-1] for row in rows), dtype=np.uint8)
    kind, good = Kind(0, 0.1 * np.arange(grams.size), frames.reshape(-1, 3)), np.ones(grams.size, dtype=bool)
    assert has_foreign_byte_in(kind, Number("bcd", 0, 3, order), good)
    assert not has_foreign_byte_in(kind, Number("bcd", 0 if order == "big" else 1, 2, order), good)

"""What an instrument shows that has nothing below nought, and what only counts beside a number."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from drivers.learn.signs.flags import only_counts
from tests.drivers.learn.small import learned, reads, summed

HEAVY_G = 1500.0


def _packet(counts: int, n: int) -> bytes:
    data = struct.pack("<BHB", 0x8C, counts, n // 16 % 256)
    return data + summed(data)


def _cut_off(g: float, n: int) -> bytes:
    return _packet(max(round(32.55 * g), 0), n)


def _quiet(g: float, n: int) -> bytes:
    """A pan that rests at nought without any noise says nothing of what is below."""
    return _packet(round(32.55 * round(g)), n)


@pytest.mark.parametrize(("packet", "is_seen"), [(_cut_off, True), (_quiet, False)])
def test_an_empty_pan_whose_noise_ends_at_nought_shows_that_no_bit_is_a_sign(packet, *, is_seen: bool):
    found = learned(packet, (960.0, 300.0, 869.0, 0.0), 0.09)
    assert found.is_sure == is_seen, found.reasons
    if is_seen:
        assert reads(found, packet(HEAVY_G, 7)) == [pytest.approx(HEAVY_G, abs=0.1)]


@pytest.mark.parametrize(
    ("counts", "is_counter"),
    [
        (np.arange(640) // 16 % 256, True),
        (np.arange(640) // 2 % 256, True),
        (np.where(np.arange(640) % 160 > 100, 0x80, 0) + np.arange(640) // 40, False),
        (np.arange(640) // 200, False),
    ],
    ids=["a slow counter", "one that comes round", "with a bit that goes down again", "a few states"],
)
def test_a_byte_that_has_only_gone_up_by_one_is_no_state(counts, *, is_counter: bool):
    assert only_counts(counts.astype(np.uint8)) == is_counter

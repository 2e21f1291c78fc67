"""The same number in frames of which some bytes are a check after all."""

from __future__ import annotations

import numpy as np

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.fitting import fit
from drivers.learn.numbers.number import Number
from drivers.learn.outside.turning import without_check_bytes
from drivers.learn.packets.kinds import Kind


def test_a_mask_loses_the_bits_of_the_bytes_that_are_left_to_a_check():
    loads = tuple(Load(g, 10.0 * at, 10.0 * at + 9.0) for at, g in enumerate((0.0, 100.0, 250.0, 330.0)))
    rng = np.random.default_rng(3)
    grams = np.repeat([load.value for load in loads], 100) + rng.normal(0.0, 0.5, 400)
    counts = np.clip(np.round(10 * grams), 0, 4095).astype(np.int64)
    parts = (np.full(400, 0xA6), np.arange(400) % 256, 0xC0 + (counts >> 8), counts & 0xFF)
    frames = np.stack((*parts, sum(parts) % 256), axis=1).astype(np.uint8)
    kind = Kind(0, np.arange(400) / 10.0, frames).seen_with(loads)
    assert kind is not None
    one = fit(kind, Number("integer", 2, 3, mask=0xFFFFF), loads, "weight")
    assert one is not None
    shorter = list(without_check_bytes(one, loads, "weight"))
    assert [(each.number.width, each.number.mask) for each in shorter] == [(2, 0xFFF), (1, 0xF)]

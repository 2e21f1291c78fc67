"""Floats of two words: one upper word makes two, with what is before it and with what is behind."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

import pytest

from tests.drivers.learn.small import learned, reads

MASSES = (0.0, 50.0, 200.0, 1000.0)


def words(g: float) -> bytes:
    """Give a float with its lower word first, each with its high byte first."""
    high = struct.pack(">f", g)
    return high[2:] + high[:2]


def settling(frame: Callable[[float, float, int], bytes], noise: float) -> Callable[[float, int], bytes]:
    """Make a scale that settles, with a copy that does so more slowly."""
    shown_g, copy_g, rng = [0.0], [0.0], random.Random(2)

    def packet(g: float, n: int) -> bytes:
        shown_g[0] += 0.25 * (g - shown_g[0])
        copy_g[0] += 0.1 * (shown_g[0] - copy_g[0])
        return frame(shown_g[0] + rng.gauss(0.0, noise), copy_g[0], n)

    return packet


def _before_reserved(g: float, _: float, n: int) -> bytes:
    return b"\xeb\xbc" + words(round(g)) + b"\0\0" + bytes([n % 251])


def _before_copy(g: float, copy_g: float, n: int) -> bytes:
    return b"\x1b" + words(round(g)) + words(round(copy_g)) + b"\0\0" + bytes([n % 251])


def _behind_copy(g: float, copy_g: float, n: int) -> bytes:
    return b"\x76\xdb" + struct.pack(">ffB", copy_g / 1000, g / 1000, n % 251)


@pytest.mark.parametrize(
    ("frame", "noise"), [(_before_reserved, 0.2), (_before_copy, 0.1), (_behind_copy, 0.003)]
)
def test_a_float_has_the_lower_word_with_which_it_goes_on_while_the_load_moves(
    frame: Callable[[float, float, int], bytes], noise: float
):
    found = learned(settling(frame, noise), MASSES, 0.0)
    assert found.is_sure, found.reasons
    assert reads(found, frame(387.0, 301.0, 1), frame(4683.0, 4001.0, 2)) == pytest.approx([387.0, 4683.0])

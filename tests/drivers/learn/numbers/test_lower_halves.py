"""Floats whose upper half goes with the lower half of something else as well."""

from __future__ import annotations

import struct
from collections.abc import Callable

import pytest

from tests.drivers.learn.small import learned, reads, summed

MASSES = (200.0, 500.0, 0.0, 100.0)


def settling(share: float, off_g: float) -> Callable[[float, int], bytes]:
    """Make a scale that settles, and whose float stands behind a counter of small numbers.

    As a lower half, those are next to nothing, and so is that of the float itself at check masses.
    """
    shown_g = [MASSES[0]]

    def packet(g: float, n: int) -> bytes:
        shown_g[0] += share * (g - shown_g[0])
        return framed(shown_g[0] + off_g, n)

    return packet


def framed(g: float, n: int) -> bytes:
    first, second, third, fourth = struct.pack(">f", g)
    frame = struct.pack(">BHBB", 0xA7, n, 0, n % 16) + bytes((second, first, fourth, third))
    return frame + summed(frame)


@pytest.mark.parametrize(
    ("share", "off_g", "noise_g"), [(0.1, 0.02, 0.004), (0.25, 0.04, 0.01), (0.15, 0.06, 0.02)]
)
def test_a_float_has_the_lower_half_that_starts_again_where_the_upper_one_goes_on(
    share: float, off_g: float, noise_g: float
):
    found = learned(settling(share, off_g), MASSES, noise_g)
    assert found.is_sure, found.reasons
    assert reads(found, framed(10.15, 1), framed(437.6, 2)) == [
        pytest.approx(10.15, abs=1e-3), pytest.approx(437.6, abs=1e-3)
    ]  # fmt: skip

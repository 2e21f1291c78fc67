"""Thousandths of a gram of a display in whole grams: the zero is a multiple of its step as well."""

from __future__ import annotations

from tests.drivers.learn.small import learned, reads


def test_a_pan_that_rests_most_of_a_step_too_high_is_no_zero_of_the_instrument():
    def line(g: float, n: int) -> bytes:
        return b"w %07d mg\r\n" % (1000 * round(g + 0.95))

    found = learned(line, (200.0, 300.0, 10.0), 0.8, link="serial")
    assert reads(found, b"w 0012000 mg\r\n", link="serial") == [12.0]

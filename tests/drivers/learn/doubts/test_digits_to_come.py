"""Lines of one length: whether a number in them may come to have more digits than it ever had."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads

FULL = (100.0, 150.0, 250.0, 500.0)
"""Loads of as many digits each, g."""


def _in_kilograms(g: float, n: int) -> bytes:
    return b"%s M=%+.3fkg\n" % (b"STILL" if n % 160 > 9 else b"MOVES", g / 1000)


def _in_grams(g: float, n: int) -> bytes:
    return b"%s M=%+.1fg\n" % (b"STILL" if n % 160 > 9 else b"MOVES", g)


@pytest.mark.parametrize(("line", "heaviest_g", "is_enough"), [
    (_in_kilograms, 500.0, True),
    (_in_kilograms, 8000.0, False),
    (_in_grams, 500.0, False),
])  # fmt: skip
def test_a_digit_before_the_point_is_enough_for_kilograms_that_are_far_from_ten(line, heaviest_g, is_enough):
    found = learned(line, (*FULL[:3], heaviest_g))
    assert found.is_sure == is_enough, found.reasons
    if not is_enough:
        assert any("more digits" in reason for reason in found.reasons)


def test_a_column_whose_blank_has_held_a_digit_or_a_minus_is_no_longer_with_them():
    """A flow above 9.9 g/s or below nought takes one of the blanks before it."""

    def line(g: float, n: int) -> bytes:
        return b"%7.1f %5.1f%s\n" % (g, 7 * n % 160 / 10 - 3, b"g")

    found = learned(line)
    assert found.is_sure, found.reasons
    assert found.description is not None and found.description.frames, "all lines are of one length"
    assert reads(found, line(1234.5, 90)) == [1234.5]

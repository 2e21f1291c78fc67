"""Lines whose sign stands behind the number, or in the column beside it, which may be empty above nought."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.drivers.learn.signs.test_signs_in_columns import learned_lifted
from tests.drivers.learn.small import learned, reads


def _minus_or_blank(g: float, n: int) -> bytes:
    return b"M=%.1f%s  ;U=%d\r\n" % (abs(g), b"-" if g < 0 else b" ", n % 90)


def _minus_or_plus(g: float, n: int) -> bytes:
    return b"%.1f%s g;%d\n" % (abs(g), b"-" if g < 0 else b"+", n)


def _column_beside(g: float, n: int) -> bytes:
    return b"%d|%.1f|%s|7\n" % (n, abs(g), b"-" if g < 0 else b" ")


def _column_before(g: float, n: int) -> bytes:
    return b"%d,%s,%.1f,M\n" % (n, b"-" if g < 0 else b"+", abs(g))


def _behind_a_state(g: float, n: int) -> bytes:
    state, sign = b"OK" if n % 120 > 30 else b"--", b"-" if g < 0 else b" "
    return b"S=%s;G=%.2f%s g;E=%d\n" % (state, abs(g), sign, n % 90)


def _behind_another(g: float, n: int) -> bytes:
    sign, state = b"-" if g < 0 else b"+", b"?" if n % 120 < 15 else b""
    return b"D,%.0f%s,%.1f%s,%s,%d\n" % (abs(g), sign, abs(g), sign, state, n % 90)


@pytest.mark.parametrize(
    "line",
    [_minus_or_blank, _minus_or_plus, _column_beside, _column_before, _behind_a_state, _behind_another],
)
def test_a_sign_beside_the_number_is_read(line: Callable[[float, int], bytes]):
    found = learned_lifted(line)
    assert found.is_sure, found.reasons
    assert not found.never_negative
    assert reads(found, line(-43.2, 1), line(432.1, 2), line(0.0, 3), link="serial") == [-43.2, 432.1, 0.0]


def test_a_plus_behind_the_number_may_become_a_minus():
    found = learned(lambda g, n: _minus_or_plus(abs(round(g, 1)), n), noise_g=0.05, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, _minus_or_plus(-43.2, 1), link="serial") == [-43.2]


@pytest.mark.parametrize("steady", [b"", b"+"])
def test_what_turns_far_from_nought_is_none(steady: bytes):
    """It says that the weight falls, or has fallen last."""

    def line(g: float, n: int) -> bytes:
        return b"%.1f %s;%d\n" % (abs(round(g, 1)), b"-" if n * 7 % 160 < 40 else steady, n)

    found = learned(line, noise_g=0.05, link="serial")
    assert not found.is_sure or reads(found, b"412.5 -;7\n", link="serial") == [412.5]

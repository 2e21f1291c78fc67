"""Lines in which a sign or a word comes and goes: it tells a state, and what follows is read all the same."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads


@pytest.mark.parametrize("states", [(b"?", b""), (b"?", b" "), (b"S", b"M"), (b"OK", b".."), (b"##", b"")])
def test_a_state_before_the_weight_is_passed_over(states: tuple[bytes, bytes]):
    def line(g: float, n: int) -> bytes:
        return states[n % 16 >= 6] + b",%+08.1f\r\n" % g

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(123.4, 0), line(-7.5, 9), link="serial") == [123.4, -7.5]


def test_a_unit_that_is_absent_while_the_weight_moves_is_passed_over():
    def line(g: float, n: int) -> bytes:
        return (b"%d;%.1fg;S\n" if n % 160 > 20 else b"%d;%.1f ;D\n") % (n, g)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(123.4, 0), line(-7.5, 90), link="serial") == [123.4, -7.5]


@pytest.mark.parametrize("made", [b"D%s %8.2f g\n", b"%s %+.2f g\n", b">%s\t27.3\t%8.2f\n"])
def test_a_mark_that_comes_and_goes_before_a_number_is_passed_over(made: bytes):
    def line(g: float, n: int) -> bytes:
        return made % (b"?" if n % 160 < 20 else b"", g)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(123.4, 0), line(-7.5, 90), link="serial") == [123.4, -7.5]

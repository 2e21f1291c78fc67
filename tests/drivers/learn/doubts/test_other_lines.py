"""Lines that begin with a word or a sign of their own: a temperature follows no load, and is no weight."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads


def _weighed(state: bytes, g: float) -> bytes:
    return state + b";%+.1f;g\r\n" % g


@pytest.mark.parametrize("line", [b"T;%.1f C\r\n", b"T %.1f C\r\n", b"T;%.1f\r\n"])
@pytest.mark.parametrize("link", ["ble", "serial"])
def test_lines_of_another_word_whose_number_does_not_follow_the_load_are_none_that_are_left_out(
    link: str, line: bytes
):
    def packet(g: float, n: int) -> bytes:
        return line % (60.0 + n / 700) if n % 7 == 3 else _weighed(b"P", g)

    found = learned(packet, link=link)
    assert found.is_sure, found.reasons
    assert reads(found, _weighed(b"P", 412.5), link=link) == [pytest.approx(412.5)]


@pytest.mark.parametrize("line", [b"@%d\r\n", b"// %.1f\r\n"])
def test_nor_are_lines_that_a_sign_tells_from_those_of_the_weight(line: bytes):
    def packet(g: float, n: int) -> bytes:
        return b"%+.0f\r\n" % g if n % 2 else line % 65

    found = learned(packet, link="ble")
    assert found.is_sure, found.reasons
    assert reads(found, b"+412\r\n", line % 65) == [412.0, None]


def test_lines_of_another_word_that_hold_the_load_are_not_left_out_unsaid():
    def packet(g: float, n: int) -> bytes:
        # Where one part is absent, no pattern reads both.
        return b"Q;%+.1f;;g\r\n" % g if n % 7 == 3 else _weighed(b"P", g)

    found = learned(packet, link="serial")
    assert not found.is_sure or reads(found, b"Q;+412.5;;g\r\n", link="serial") == [pytest.approx(412.5)]


def test_a_number_that_no_pattern_reads_behind_another_with_blanks_inside_is_a_doubt():
    """A slow copy stands before the weight, and the sign of each before its padding."""
    slow_g = [0.0]

    def line(g: float, n: int) -> bytes:
        slow_g[0] += 0.05 * (g - slow_g[0])
        return b"%c%8.2f %c%8.2f %d\r\n" % (
            b"+-"[slow_g[0] < 0], abs(slow_g[0]), b"+-"[round(g, 2) < 0], abs(g), n % 100
        )  # fmt: skip

    found = learned(line, noise_g=0.02, link="serial")
    assert not found.is_sure
    assert any(reason.startswith("No pattern reads this number alone") for reason in found.reasons)

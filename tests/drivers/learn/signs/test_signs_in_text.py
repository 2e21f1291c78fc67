"""Signs in text, and none: a bit that was another one once near nought, of a letter and of flags."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads


def line(weight_g: float, letter: int) -> bytes:
    return b"N " + f"{abs(weight_g):8.1f}".encode() + b"  " + bytes([letter]) + b"1\n"


def once(n: int) -> bool:
    """Say which packet it is: the load that was put on has just been taken off."""
    return n == 653


LOADS = (0.0, 100.0, 208.0, 1211.6, 0.0)


def test_a_letter_with_a_turned_bit_near_nought_is_no_sign():
    found = learned(lambda g, n: line(g, 0x43 if once(n) else 0x41), LOADS, 0.06)
    assert found.is_sure, found.reasons
    assert "sign = " not in found.toml


def test_a_bit_of_flags_in_text_that_is_set_once_near_nought_is_doubted():
    def packet(g: float, n: int) -> bytes:
        is_moving = min(abs(g - load) for load in LOADS) > 1.0
        return line(g, 0x30 | 8 * once(n) | 4 * is_moving)

    found = learned(packet, LOADS, 0.06)
    assert not found.is_sure or "sign = " in found.toml


def test_a_sign_between_a_state_and_padded_digits_is_not_taken_along_with_the_state():
    def line(g: float, n: int) -> bytes:
        said = f"{'-' if round(g, 1) < 0 else '+'}{abs(g):6.1f}g".encode()
        text = (b"M" if n % 160 < 9 else b"S") + said
        return b"\x02" + text + b"%02X\r" % (sum(text) % 256)

    found = learned(line, noise_g=0.2, link="serial")
    assert found.is_sure, found.reasons
    for g in (-231.0, 231.0):
        for n in (3, 30):
            said = reads(found, line(g, n), line(0.0, 9), link="serial")
            assert next(each for each in said if each is not None) == pytest.approx(g)

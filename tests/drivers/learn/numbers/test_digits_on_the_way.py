"""Digits as a load shows them on its way: such as it leaves out, and such as stand in another order."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads, xor

_ON_WAY, _TENTHS = 14, (0, 0, 2, 2, 5, 5, 7, 7, 9, 9)
"""Packets after which a load has come to rest; the tenths that it shows until then."""


def test_digits_that_come_at_rest_only_are_the_numbers_own():
    def packet(g: float, n: int) -> bytes:
        hundredths = round(100 * max(g, 0.0))
        if n % 160 < _ON_WAY and n >= 160:
            hundredths += 10 * (_TENTHS[hundredths // 10 % 10] - hundredths // 10 % 10)
        return b"J%08d+%c" % (hundredths, n % 251)

    found = learned(packet, (0.0, 100.5, 250.0, 500.3), 0.3)
    assert found.is_sure, found.reasons
    assert reads(found, b"J00012346+\x07") == [pytest.approx(123.46)]


_HAND = ((0, 0, 171), (77, 0, 0, 99, 159), (165, 20, 0, 0, 447), (381, 216, 0, 0, 70))
"""What is shown while one load is taken off and the next one put on, g."""


@pytest.mark.parametrize("is_low_first", [False, True])
def test_digits_that_say_the_same_in_two_orders_go_on_from_one_packet_to_the_next(is_low_first: bool):
    def packet(g: float, n: int) -> bytes:
        load, at = divmod(n, 160)
        grams = _HAND[load][at] if at < len(_HAND[load]) else round(g) - (n % 40 == 3)
        digits = f"{10 * grams if is_low_first else grams:06d}"
        pairs = [digits[at : at + 2] for at in (0, 2, 4)]
        body = bytes([0xA5, n % 251]) + bytes.fromhex("".join(p[::-1] if is_low_first else p for p in pairs))
        return body + xor(body)

    found = learned(packet, (300.0, 209.0, 500.0, 100.0), 0.1)
    assert found.is_sure, found.reasons
    later = bytes.fromhex("A507005108" if is_low_first else "A507000158")
    assert reads(found, later + xor(later)) == [pytest.approx(158.0)]

"""Digits that a load happens to leave out on its way, and shows elsewhere: they are the number's own."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads

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

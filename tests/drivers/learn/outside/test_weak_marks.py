"""Whether what a frame without a check begins with marks it."""

from __future__ import annotations

import struct

import pytest

from drivers.learn.numbers.number import Number
from drivers.learn.outside.framed import Outside, is_weakly_marked
from tests.drivers.learn.small import LOADS, captured, fitted


@pytest.mark.parametrize(
    ("second", "is_weak"),
    [
        pytest.param(0x09, False, id="all bytes"),
        pytest.param(0x07, False, id="all that follow"),
        pytest.param(0x05, False, id="all but its two ends"),
        pytest.param(0x2C, True, id="something else"),
        pytest.param(0x0B, True, id="more than there are"),
    ],
)
def test_a_second_byte_that_says_how_long_a_frame_is_marks_it(second: int, *, is_weak: bool):
    def frame(g: float, n: int) -> bytes:
        return struct.pack(">BBhHHB", 0x37, second, round(g), 7919 * n % 65_536, 31 * n % 65_536, n % 251)

    one = fitted(captured(frame, LOADS, 0.3, "ble"), Number("integer", 2, 2, "big"))
    assert is_weakly_marked(Outside((0x37, second), 9, b"", None), one) == is_weak

"""What in one byte may be a sign: a code of its own, or a bit among others that come and go."""

from __future__ import annotations

import numpy as np
import pytest

from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.signs.sign_places import is_counted_over, signs_at

ABOVE_NOUGHT = np.arange(30, 90)


@pytest.mark.parametrize(
    ("plus", "minus", "has_code"),
    [
        pytest.param((0x2B, 0x2B), 0x2D, True, id="a plus and a minus"),
        pytest.param((0x00, 0x01), 0x10, False, id="a bit beside one that says that the load is at rest"),
    ],
)
def test_a_code_is_a_sign_where_no_other_differs_from_it_in_one_bit(plus, minus, has_code):
    column = np.repeat(np.array([plus[0], plus[1], minus], dtype=np.uint8), (30, 60, 10))
    found = signs_at(column[:, None], 0, ABOVE_NOUGHT, 2)
    assert (SignPlace(0, 0xFF, (minus,), (plus[1],)) in found) == has_code
    assert any(sign.mask != 0xFF and sign.is_negative(column[90:, None]).all() for sign in found)


@pytest.mark.parametrize(("order", "bits"), [("little", (0xFF, 0xFF, 0x0F)), ("big", (0x0F, 0xFF, 0xFF))])
def test_a_sign_stands_above_the_bits_that_are_the_numbers_own(order, bits):
    number = Number("integer", 2, 3, order, mask=0xFFFFF)
    assert tuple(map(number.own_bits, range(2, 5))) == bits
    assert number.own_bits(5) == 0


@pytest.mark.parametrize(
    ("codes", "mask", "is_counted"),
    [
        pytest.param((0xDB, 0xDC), 0x04, True, id="a temperature between two tenths"),
        pytest.param((0xDB, 0xDF), 0x04, False, id="a flag by itself"),
        pytest.param((0x02, 0x03), 0x01, False, id="the lowest bit, which may be either"),
        pytest.param((0x01, 0x02), 0x02, False, id="codes of a plus and a minus"),
    ],
)
def test_a_bit_that_turns_with_all_below_it_is_one_of_a_value(codes, mask, is_counted):
    column = np.array(codes * 20, dtype=np.uint8)
    assert is_counted_over(column, column & mask > 0) == is_counted

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.ieee11073 import Special, decode_float, decode_sfloat
from drivers.reading import Status


def float_of(word: int) -> bytes:
    return word.to_bytes(4, "little")


# Bluetooth SIG, Personal Health Devices Transcoding White Paper (364 * 10**-1); the two after it are worked
# in stackoverflow.com question 60841331; the rest in HL7 PHD FHIR IG, "IEEE 11073 FLOATs". That page prints
# 4098 as the decimal form of 0x01000002; it is 16777218, and the value is 20.
@pytest.mark.parametrize(
    ("word", "text"),
    [
        (0xFF00016C, "36.4"),
        (0xFE000D97, "34.79"),
        (0xFE000E71, "36.97"),
        (0x00000002, "2"),
        (0xFF000014, "2.0"),
        (0xFE0000C8, "2.00"),
        (0x01000002, "2E+1"),
        (0x02000002, "2E+2"),
        (16777218, "2E+1"),
    ],
)
def test_published_floats(word, text):
    number = decode_float(float_of(word))
    assert number.value == float(text)
    assert Decimal(number.mantissa).scaleb(number.exponent).as_tuple() == Decimal(text).as_tuple()
    assert number.step == float(f"1e{number.exponent}")


# IEEE 11073-20601, special values of FLOAT-Type; sent as FF FF 7F 00 and so on.
@pytest.mark.parametrize(
    ("sent", "special", "status"),
    [
        ("FF FF 7F 00", Special.NAN, Status.ERROR),
        ("00 00 80 00", Special.NRES, Status.ERROR),
        ("FE FF 7F 00", Special.ABOVE, Status.OVERLOAD),
        ("02 00 80 00", Special.BELOW, Status.UNDERLOAD),
        ("01 00 80 00", Special.RESERVED, Status.ERROR),
    ],
)
def test_codes_that_are_no_numbers(sent, special, status):
    number = decode_float(bytes.fromhex(sent))
    assert number.special is special
    assert special.status is status
    assert math.isnan(number.value)


# Bluetooth SIG, Personal Health Devices Transcoding White Paper, SFLOAT-Type.
@pytest.mark.parametrize(
    ("word", "special"),
    [
        (0x07FF, Special.NAN),
        (0x0800, Special.NRES),
        (0x07FE, Special.ABOVE),
        (0x0802, Special.BELOW),
        (0x0801, Special.RESERVED),
        (0x0072, None),
        (0xF7FF, None),
        (0x0803, None),
        (0x07FD, None),
    ],
)
def test_sfloat_codes(word, special):
    assert decode_sfloat(word.to_bytes(2, "little")).special is special


def test_sfloat_numbers():
    assert decode_sfloat(b"\x72\x00").value == 114.0
    assert decode_sfloat(b"\x64\xf1").value == 35.6
    assert decode_sfloat(b"\x9c\xff").value == -10.0


@pytest.mark.parametrize("word", [0xFF7FFFFF, 0xFF800000, 0xFF7FFFFE, 0x01800002, 0x01800001])
def test_the_codes_are_numbers_where_the_exponent_is_not_zero(word):
    number = decode_float(float_of(word))
    assert number.special is None
    assert math.isfinite(number.value)


@pytest.mark.parametrize("mantissa", [0x7FFFFD, -0x7FFFFD])
def test_the_largest_numbers_are_numbers(mantissa):
    assert decode_float(float_of(mantissa & 0xFFFFFF)).value == mantissa


@given(st.integers(-0x7FFFFD, 0x7FFFFD), st.integers(-128, 127))
def test_every_number_is_the_nearest_float_to_its_decimals(mantissa, exponent):
    number = decode_float(float_of((exponent & 0xFF) << 24 | mantissa & 0xFFFFFF))
    assert number.value == float(f"{mantissa}e{exponent}")
    assert number.step == float(f"1e{exponent}")


@given(st.integers(-0x7FD, 0x7FD), st.integers(-8, 7))
def test_every_short_number_too(mantissa, exponent):
    number = decode_sfloat(((exponent & 0xF) << 12 | mantissa & 0xFFF).to_bytes(2, "little"))
    assert number.value == float(f"{mantissa}e{exponent}")


@pytest.mark.parametrize("data", [b"", b"\x00\x00\x00", b"\x00" * 5])
def test_other_lengths_are_a_mistake_of_the_caller(data):
    with pytest.raises(ValueError, match="where 4 are expected"):
        decode_float(data)
    with pytest.raises(ValueError, match="where 2 are expected"):
        decode_sfloat(data)

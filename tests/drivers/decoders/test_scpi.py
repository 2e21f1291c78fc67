from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import Status
from drivers.decoders.scpi import ScpiNumber, decode_scpi_number, decode_scpi_numbers


# IEEE 488.2, 8.7.2 to 8.7.4: NR1, NR2, NR3, with the examples of laboratory instruments' programming guides.
@pytest.mark.parametrize(
    ("text", "value"),
    [
        (b"146", 146.0),
        (b"+146", 146.0),
        (b"-12345", -12345.0),
        (b"12.3", 12.3),
        (b"+1.2345", 1.2345),
        (b"-0.123", -0.123),
        (b"2.73E+2", 273.0),
        (b"+9.35600E+01\r\n", 93.56),
        (b"-2.5e-3", -0.0025),
        (b" .5 ", 0.5),
        (b"5.", 5.0),
        (b"1.5 E 2", 150.0),
    ],
)
def test_numbers(text, value):
    assert decode_scpi_number(text) == ScpiNumber(value)


# SCPI-1999, volume 1: 9.91E37 is "not a number", 9.9E37 and -9.9E37 stand for the infinities.
@pytest.mark.parametrize(
    ("text", "status"),
    [
        (b"9.91E37", Status.ERROR),
        (b"+9.91000000E+37", Status.ERROR),
        (b"9.91000019e37", Status.ERROR),
        (b"9.9E37", Status.OVERLOAD),
        (b"+9.90000022E+37", Status.OVERLOAD),
        (b"-9.9E37", Status.UNDERLOAD),
        (b"-9.90000E+37", Status.UNDERLOAD),
        (b"1E38", Status.OVERLOAD),
        (b"1E999", Status.OVERLOAD),
        (b"NAN", Status.ERROR),
        (b"nan", Status.ERROR),
        (b"INF", Status.OVERLOAD),
        (b"NINF", Status.UNDERLOAD),
    ],
)
def test_codes_that_are_no_numbers(text, status):
    number = decode_scpi_number(text)
    assert number.value is None
    assert number.status is status
    assert number.why


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"  ",
        b".",
        b"+",
        b"1.2.3",
        b"0x10",
        b"#H1F",
        b"12 g",
        b'"93.5"',
        b"1e",
        b"1_0",
        b"\xff\xb2",
        b"1" * 500,
    ],
)
def test_what_is_no_number_says_why(text):
    number = decode_scpi_number(text)
    assert (number.value, number.status) == (None, Status.ERROR)
    assert "empty" in number.why or "is not a number" in number.why


def test_lists():
    numbers = decode_scpi_numbers(b"+9.35E+01, 12.3,9.91E37,\n")
    assert [number.value for number in numbers] == [93.5, 12.3, None, None]
    assert numbers[3].why == "the answer is empty"


@given(st.floats(-1e37, 1e37))
def test_what_is_written_is_read(value):
    assert decode_scpi_number(f"{value:+.17E}".encode()).value == value


@given(st.one_of(st.binary(max_size=80), st.text("0123456789+-.eE ,", max_size=80).map(str.encode)))
def test_any_bytes_give_a_usable_number_or_a_reason(data):
    for number in decode_scpi_numbers(data):
        if number.value is None:
            assert number.why
            assert not number.status.has_value
        else:
            assert math.isfinite(number.value)
            assert abs(number.value) < 9.9e37

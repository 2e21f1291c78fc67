from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import CELSIUS, GRAM, Status
from drivers.decoders.pattern_lines import PatternLines
from tests.drivers.decoders.pieces import assert_pieces_agree


def values(pattern: str, line: str) -> list[float]:
    decoded = PatternLines(pattern).decode(line.encode() + b"\n")
    assert decoded.rejected == 0, decoded.last_rejected
    return [measurement.value for measurement in decoded.measurements]


@pytest.mark.parametrize(
    ("word", "text", "value"),
    [
        ("weight", "12.3", 12.3),
        ("weight_g", "-12.3", -12.3),
        ("weight_g", "-   12.3", -12.3),
        ("weight_kg", "+ 0.0123", 12.3),
        ("weight_kg", "0.0123", 12.3),
        ("weight_kg", "1.23e-2", 12.3),
        ("weight_mg", "12300", 12.3),
        # NIST SP 811 (2008), B.8: exact
        ("weight_lb", "1", 453.59237),
        ("weight_oz", "1", 28.349523125),
        ("temperature", "93.4", 93.4),
        ("temperature_c", "93.4", 93.4),
        # the definitions of the scales: the ice point and, for °F, the point where both agree
        ("temperature_f", "32", 0.0),
        ("temperature_f", "-40", -40.0),
        ("temperature_f", "212", 100.0),
        ("temperature_k", "273.15", 0.0),
        # IEEE 488.2 number forms NR1, NR2, NR3
        ("weight", "+146", 146.0),
        ("weight", "+1.2345", 1.2345),
        ("weight", "2.73E+2", 273.0),
        ("weight", ".5", 0.5),
        ("weight", "5.", 5.0),
    ],
)
def test_units(word, text, value):
    assert values(word, text) == [pytest.approx(value, rel=1e-15, abs=1e-13)]


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("nan", Status.ERROR),
        ("NaN", Status.ERROR),
        # SCPI-1999, volume 1, section 7.2.1: 9.91E37 is "not a number", 9.9E37 the infinities
        ("9.91E37", Status.ERROR),
        ("+9.910000E+37", Status.ERROR),
        ("9.9E37", Status.OVERLOAD),
        ("-9.9E37", Status.UNDERLOAD),
        ("inf", Status.OVERLOAD),
        ("-inf", Status.UNDERLOAD),
        ("1e400", Status.OVERLOAD),
    ],
)
@pytest.mark.parametrize("word", ["weight_kg", "temperature_f"])
def test_no_number_is_no_value(word, text, status):
    (measurement,) = PatternLines(word).decode(text.encode() + b"\n").measurements
    assert math.isnan(measurement.value)
    assert measurement.status is status


def test_an_empty_field_is_no_value_and_its_neighbours_stay():
    weight, temperature = PatternLines("weight,temperature").decode(b",93.4\n").measurements
    assert (weight.unit, weight.status) == (GRAM, Status.ERROR)
    assert (temperature.unit, temperature.value, temperature.status) == (CELSIUS, 93.4, Status.UNKNOWN)


@pytest.mark.parametrize(("word", "text"), [("time_ms", "12345"), ("time_s", "12.345")])
def test_the_device_clock_goes_with_every_value_of_its_line(word, text):
    decoded = PatternLines(f"{word} weight temperature").decode(f"{text} 1 2\n".encode())
    assert [one.device_time_s for one in decoded.measurements] == [12.345, 12.345]


def test_a_clock_that_is_nan_is_no_clock():
    (weight,) = PatternLines("weight,time_s").decode(b"1,nan\n").measurements
    assert weight.device_time_s is None


def test_names():
    pattern = "weight,cup:weight,weight,temperature,temperature,kettle:temperature"
    decoded = PatternLines(pattern, "scale", "probe").decode(b"1,2,3,4,5,6\n")
    assert [one.name for one in decoded.measurements] == [
        "scale",
        "cup",
        "scale2",
        "probe",
        "probe2",
        "kettle",
    ]


def test_a_name_that_is_taken_is_not_given_twice():
    decoded = PatternLines("weight,scale:weight", "scale", "probe").decode(b"1,2\n")
    assert [one.name for one in decoded.measurements] == ["scale2", "scale"]


def test_a_line_that_does_not_follow_the_pattern_is_shown():
    decoded = PatternLines("weight").decode(b"hello\n1\nHX711 not ready\n")
    assert (decoded.lines, decoded.rejected) == (1, 2)
    assert decoded.last_rejected.text == "HX711 not ready"


NUMBERS = st.one_of(st.floats(-1e6, 1e6), st.integers(-(10**9), 10**9), st.floats(-1e-3, 1e-3))


@given(st.lists(NUMBERS, min_size=3, max_size=3), st.sampled_from(["\r", "\n", "\r\n"]))
def test_what_python_prints_is_what_is_read(numbers, end):
    line = "W {!r} g, {!r};{!r}".format(*numbers) + end
    decoded = PatternLines("W weight g, temperature;weight_g").decode(line.encode())
    assert [one.value for one in decoded.measurements] == [float(number) for number in numbers]


NOISE = st.one_of(
    st.binary(max_size=30),
    st.text(alphabet="0123456789.,;+-eE nan\r\n", max_size=30).map(str.encode),
    st.just(b"\xff" * 600),
)


@pytest.mark.parametrize("pattern", ["weight", "time_ms,weight,temperature", "_ weight_kg;temperature_f"])
@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 3000), max_size=6))
def test_any_bytes_in_any_pieces_give_the_same(pattern, data, cuts):
    assert_pieces_agree(PatternLines(pattern), data, cuts)


@given(st.binary(max_size=700))
def test_at_most_one_line_is_lost_after_garbage(garbage):
    decoded = PatternLines("weight,temperature").decode(garbage + b"1,2\n" + b"3,4\n")
    assert [one.value for one in decoded.measurements[-2:]] == [3.0, 4.0]


@pytest.mark.parametrize(
    ("pattern", "line", "value"),
    [
        ("sign,weight", "-,12.3", -12.3),
        ("sign,weight", "+,  12.3", 12.3),
        ("sign,weight", ",12.3", 12.3),
        ("_ sign weight_kg", "ST - 0.0123", -12.3),
        ("time_s;temperature;sign", "1;93.4;-", -93.4),
        ("W weight sign*", "W 12.3 -*", -12.3),
        ("W weight sign*", "W 12.3*", 12.3),
        ("weight_g sign g", "12.3- g", -12.3),
        ("weight_g sign g", "12.3+ g", 12.3),
        ("weight_g sign;_", "12.3-;5", -12.3),
        ("weight_g sign;_", "12.3 ;5", 12.3),
    ],
)
def test_a_sign_in_a_column_of_its_own(pattern, line, value):
    if line.count(" ") < 2 and "*" in line:
        assert PatternLines(pattern).decode(line.encode() + b"\n").rejected == 1  # a column is missing
    else:
        assert values(pattern, line) == [value]


@pytest.mark.parametrize("line", ["12x3-;5", "12.3x4;5", "12.3;5"])
def test_a_sign_that_touches_its_number_holds_no_digits(line):
    assert PatternLines("weight_g sign;_").decode(line.encode() + b"\n").rejected == 1


@pytest.mark.parametrize(("text", "sign"), [("P", 1), ("N", -1), ("-", 1), ("NN", 1)])
def test_what_is_a_minus_is_said(text, sign):
    decoded = PatternLines("weight,sign", minus="N").decode(f"12.3,{text}\n".encode())
    assert [one.value for one in decoded.measurements] == [sign * 12.3]

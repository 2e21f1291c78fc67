from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import CELSIUS, GRAM, Status
from drivers.decoders.scpi_lines import ScpiLines
from tests.drivers.decoders.pieces import assert_pieces_agree


@pytest.mark.parametrize(
    ("line", "values"),
    [
        # IEEE 488.2, 8.7.2 to 8.7.4: NR1, NR2, NR3, the examples of instruments' programming guides
        (b"146", [146.0]),
        (b"+146 , -12345", [146.0, -12345.0]),
        (b"12.3,+1.2345,-0.123", [12.3, 1.2345, -0.123]),
        (b" 2.73E+2 ", [273.0]),
    ],
)
def test_numbers(line, values):
    decoded = ScpiLines("°C").decode(line + b"\r\n")
    assert [one.value for one in decoded.measurements] == values
    assert {one.unit for one in decoded.measurements} == {CELSIUS}


@pytest.mark.parametrize(
    ("unit", "text", "value", "ours"),
    [
        # the ice point, and the point where both scales agree, by definition
        ("°F", b"32", 0.0, CELSIUS),
        ("°F", b"-40", -40.0, CELSIUS),
        ("K", b"273.15", 0.0, CELSIUS),
        ("kg", b"0.5", 500.0, GRAM),
        # NIST SP 811 (2008), B.8: exact
        ("lb", b"1", 453.59237, GRAM),
    ],
)
def test_units(unit, text, value, ours):
    (measurement,) = ScpiLines(unit).decode(text + b"\n").measurements
    assert measurement.value == pytest.approx(value, abs=1e-9)
    assert measurement.unit == ours


@pytest.mark.parametrize(
    ("text", "status"),
    [
        # SCPI-1999, volume 1, section 7.2.1
        (b"9.91E37", Status.ERROR),
        (b"9.9E37", Status.OVERLOAD),
        (b"-9.9E37", Status.UNDERLOAD),
        (b"NAN", Status.ERROR),
        (b"INF", Status.OVERLOAD),
        (b"NINF", Status.UNDERLOAD),
    ],
)
def test_no_value_stays_none_and_its_neighbour_stays_one(text, status):
    nothing, temperature = ScpiLines("°C").decode(text + b",93.4\n").measurements
    assert math.isnan(nothing.value)
    assert (nothing.status, temperature.value) == (status, 93.4)


def test_names():
    decoded = ScpiLines("°C", "probe").decode(b"1,2,3\n")
    assert [one.name for one in decoded.measurements] == ["probe", "probe2", "probe3"]
    assert ScpiLines("°C").decode(b"1\n").measurements[0].name is None


@pytest.mark.parametrize(
    "line", [b"BENCH,THERMOMETER,0,1", b'-113,"Undefined header"', b"1,,2", b"1.2.3", b"1,"]
)
def test_what_is_no_number_is_not_read(line):
    decoded = ScpiLines("°C").decode(line + b"\n93.4\n")
    assert [one.value for one in decoded.measurements] == [93.4]
    assert (decoded.lines, decoded.rejected, decoded.last_rejected.text) == (1, 1, line.decode())


def test_a_number_that_may_have_lost_its_head():
    lines = ScpiLines("°C")
    assert lines.leading_number(b"3.4,21.0").text == b"3.4"
    assert lines.leading_number(b"+93.4") is None
    assert lines.leading_number(b"rubbish") is None


NOISE = st.one_of(
    st.binary(max_size=30),
    st.text(alphabet="0123456789.,+-eE naifNAIF\r\n", max_size=30).map(str.encode),
    st.just(b"1," * 300),
)


@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 3000), max_size=6))
def test_any_bytes_in_any_pieces_give_the_same(data, cuts):
    assert_pieces_agree(ScpiLines("°F"), data, cuts)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=5))
def test_what_python_prints_is_what_is_read(numbers):
    decoded = ScpiLines("g").decode(",".join(map(repr, numbers)).encode() + b"\n")
    assert [one.value for one in decoded.measurements] == numbers

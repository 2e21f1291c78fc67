from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import GRAM, Status
from drivers.decoders.balance_lines import BalanceLines
from drivers.decoders.measurement import Measurement
from tests.drivers.decoders.pieces import assert_pieces_agree
from tests.peers.balance import balance_line


def one(text: str) -> Measurement:
    decoded = BalanceLines().decode(text.encode("latin-1") + b"\r\n")
    assert decoded.rejected == 0, decoded.last_rejected
    (measurement,) = decoded.measurements
    return measurement


@pytest.mark.parametrize(
    ("text", "weight_g", "status"),
    [
        ("ST,GS,+  123.4 g", 123.4, Status.STABLE),
        ("ST,GS,  12.3  g", 12.3, Status.STABLE),
        ("ST,NT,-0012.30kg", -12300.0, Status.STABLE),
        ("US,+00012.3g", 12.3, Status.MOVING),
        ("US   12.3 g", 12.3, Status.MOVING),
        ("ST 12 G", 12.0, Status.STABLE),
        ("ST,GS,+0.0123kg", 12.3, Status.STABLE),
        ("ST,GS,-  0.0 g", 0.0, Status.STABLE),
        ("\x02ST,GS,+  1.5 g\x03", 1.5, Status.STABLE),
    ],
)
def test_shapes_of_the_trade(text, weight_g, status):
    measurement = one(text)
    assert (measurement.value, measurement.unit, measurement.status) == (weight_g, GRAM, status)
    assert measurement.name is None
    assert math.copysign(1.0, measurement.value) == (-1.0 if weight_g < 0 else 1.0)


def test_pounds_and_ounces_are_exact():
    # NIST Special Publication 811 (2008), appendix B.8: 1 pound (avoirdupois) = 453.592 37 g exactly,
    # 1 ounce (avoirdupois) = 28.349 523 125 g.
    assert one("ST,GS,+1.000 lb").value == 453.59237
    assert one("ST,GS,+1.000 oz").value == 28.349523125
    assert one("ST,GS,+16.00 OZ").value == one("ST,GS,+1.00 LB").value


@pytest.mark.parametrize("text", ["OL", "OL,GS,+9999999 g", "OL,------- g", "OL,   g", "OL,NT"])
def test_overload_has_no_value(text):
    measurement = one(text)
    assert math.isnan(measurement.value)
    assert measurement.status is Status.OVERLOAD


def test_underload_has_no_value():
    assert one("UL,GS,-9999999 g").status is Status.UNDERLOAD


def test_a_tare_line_is_read_and_gives_no_weight():
    decoded = BalanceLines().decode(b"ST,TR,+ 250.0 g\r\n")
    assert (decoded.lines, decoded.rejected, decoded.measurements) == (1, 0, ())


@pytest.mark.parametrize("unit", ["ct", "pcs", "ozt", "mg", "%"])
def test_an_unknown_unit_is_named(unit):
    decoded = BalanceLines().decode(f"ST,GS,+  123.4 {unit}\r\n".encode())
    assert (decoded.lines, decoded.rejected, decoded.measurements) == (0, 1, ())
    assert decoded.last_rejected.why == f"unit '{unit}' is not one of g, kg, oz, lb"
    assert decoded.last_rejected.unknown_unit == unit


def test_a_unit_is_never_guessed():
    decoded = BalanceLines().decode(b"ST,GS,+ 123.4\r\n")
    assert decoded.measurements == ()
    assert "no unit" in decoded.last_rejected.why


@pytest.mark.parametrize(
    "text",
    [
        "T,GS,+ 123.4 g",
        ",+ 123.4 g",
        "23.4 g",
        "STABLE 12 g",
        "COST 3 g",
        "ST,GS,1,234 g",
        "ST,+1.2.3 g",
        "ST",
    ],
)
def test_what_is_no_frame_is_rejected(text):
    decoded = BalanceLines().decode(text.encode() + b"\r\n")
    assert (decoded.lines, decoded.rejected, decoded.measurements) == (0, 1, ())
    assert decoded.last_rejected.unknown_unit is None


def test_a_frame_after_noise_in_its_own_line_is_read():
    assert one("\xf8\x80~ ST,GS,+ 12.3 g").value == 12.3
    assert one("ST,GS,+  1ST,GS,+ 12.3 g").value == 12.3


@given(
    weight_dg=st.integers(-999_999, 999_999),
    stable=st.booleans(),
    end=st.sampled_from(["\r", "\n", "\r\n"]),
)
def test_what_a_balance_prints_is_what_is_read(weight_dg, stable, end):
    line = balance_line(weight_dg / 10, stable=stable, end=end)
    (measurement,) = BalanceLines().decode(line).measurements
    assert measurement.value == weight_dg / 10
    assert measurement.status is (Status.STABLE if stable else Status.MOVING)


@given(st.integers(-9_999_999, 9_999_999))
def test_kilograms_lose_nothing(weight_dg):
    (measurement,) = BalanceLines().decode(balance_line(weight_dg / 10, unit="kg")).measurements
    assert measurement.value == weight_dg / 10


NOISE = st.one_of(st.binary(max_size=40), st.sampled_from([b"ST,GS,+ 1.0 g\r\n", b"OL\r", b"\xff" * 600]))


@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 3000), max_size=6))
def test_any_bytes_in_any_pieces_give_the_same(data, cuts):
    assert_pieces_agree(BalanceLines(), data, cuts)


@given(st.binary(max_size=700))
def test_at_most_one_line_is_lost_after_garbage(garbage):
    data = garbage + balance_line(1.0) + balance_line(2.0)
    assert BalanceLines().decode(data).measurements[-1].value == 2.0
    assert BalanceLines().decode(garbage + b"\n" + balance_line(1.0)).measurements[-1].value == 1.0

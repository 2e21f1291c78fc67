from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drivers.sensors import Thermistor


# Coefficients of a 10 kilohm thermistor, printed in forum.arduino.cc topic 683955; temperatures recomputed.
@pytest.mark.parametrize(
    ("ohms", "celsius"), [(10_000, 24.681), (5_000, 43.332), (2_000, 70.999), (1_000, 94.666)]
)
def test_published_coefficients(ohms, celsius):
    thermistor = Thermistor(1.009249522e-3, 2.378405444e-4, 2.019202697e-7)
    assert thermistor.celsius(ohms) == pytest.approx(celsius, abs=0.0005)


def test_three_pairs():
    # The example of a widely published calculator (its source from memory); checked with numpy's solver.
    thermistor = Thermistor.from_pairs([(25_000, 5), (10_000, 25), (4_000, 45)])
    assert thermistor.a == pytest.approx(2.10850817e-3, rel=1e-8)
    assert thermistor.b == pytest.approx(7.97920473e-5, rel=1e-8)
    assert thermistor.c == pytest.approx(6.53507631e-7, rel=1e-8)


@given(st.permutations([(25_000.0, 5.0), (10_000.0, 25.0), (4_000.0, 45.0)]))
def test_pairs_in_any_order_are_met(pairs):
    thermistor = Thermistor.from_pairs(pairs)
    for ohms, celsius in pairs:
        assert thermistor.celsius(ohms) == pytest.approx(celsius, abs=1e-9)


def test_beta():
    # R = R25 * exp(beta (1/T - 1/298.15)): the definition; 10 kilohm and 3950 K give 588.6 ohm at 110 °C
    thermistor = Thermistor.from_beta(3950, 10_000)
    assert thermistor.celsius(10_000) == pytest.approx(25.0, abs=1e-9)
    ohms = 10_000 * math.exp(3950 * (1 / (93 + 273.15) - 1 / 298.15))
    assert thermistor.celsius(ohms) == pytest.approx(93.0, abs=1e-9)


@given(st.floats(2000, 5000), st.floats(10, 1e6), st.floats(-50, 150))
def test_beta_is_met_anywhere(beta_k, r25_ohm, celsius):
    ohms = r25_ohm * math.exp(beta_k * (1 / (celsius + 273.15) - 1 / 298.15))
    assert Thermistor.from_beta(beta_k, r25_ohm).celsius(ohms) == pytest.approx(celsius, abs=1e-6)


@given(
    st.lists(st.floats(-40, 150), min_size=3, max_size=3),
    st.floats(2500, 4500),
    st.floats(100, 1e6),
    st.data(),
)
def test_three_pairs_of_a_curve_give_back_the_curve(temperatures, beta_k, r25_ohm, data):
    first, second, third = sorted(temperatures)
    assume(second - first > 5 and third - second > 5)
    pairs = [
        (r25_ohm * math.exp(beta_k * (1 / (t + 273.15) - 1 / 298.15)), t) for t in (first, second, third)
    ]
    assume(pairs[-1][0] > 1.0)
    between = data.draw(st.floats(first, third))
    ohms = r25_ohm * math.exp(beta_k * (1 / (between + 273.15) - 1 / 298.15))
    assert Thermistor.from_pairs(pairs).celsius(ohms) == pytest.approx(between, abs=1e-4)


@pytest.mark.parametrize("ohms", [0.0, -1.0, 1e-9, 1e12, math.inf, 9.91e37])
def test_a_broken_wire_or_a_short_circuit_is_no_temperature(ohms):
    with pytest.raises(ValueError, match="thermistor"):
        Thermistor.from_beta(3950, 10_000).celsius(ohms)


def test_a_curve_that_turns_back_gives_no_temperature():
    # C < 0: beyond ln R = sqrt(B / -3C) = 9.1 the equation would show a warmer tip for a larger resistance
    thermistor = Thermistor(1.0e-3, 2.5e-4, -1.0e-6)
    assert thermistor.celsius(5_000) < thermistor.celsius(4_000)
    with pytest.raises(ValueError, match="not within"):
        thermistor.celsius(20_000)


@pytest.mark.parametrize(
    ("pairs", "why"),
    [
        ([(25_000, 5), (10_000, 25)], "2 pairs"),
        ([(25_000, 5), (10_000, 25), (10_000, 45)], "fall"),
        ([(25_000, 5), (10_000, 25), (40_000, 45)], "fall"),
        ([(25_000, 25), (10_000, 25), (4_000, 45)], "fall"),
        ([(0, 5), (10_000, 25), (4_000, 45)], "above 0"),
        ([(25_000, 5), (10_000, math.nan), (4_000, 45)], "above 0"),
        ([(math.inf, 5), (10_000, 25), (4_000, 45)], "above 0"),
        ([(25_000, 5), (10_000, 25), (9_999, 300)], "not within"),
    ],
)
def test_pairs_that_are_no_thermistor(pairs, why):
    with pytest.raises(ValueError, match=why):
        Thermistor.from_pairs(pairs)


@pytest.mark.parametrize(
    ("beta_k", "r0_ohm", "celsius"),
    [(0, 10_000, 25), (-1, 10_000, 25), (3950, 0, 25), (math.nan, 10_000, 25), (3950, 10_000, -300)],
)
def test_impossible_data_sheets(beta_k, r0_ohm, celsius):
    with pytest.raises(ValueError, match="no thermistor"):
        Thermistor.from_beta(beta_k, r0_ohm, celsius)


def test_coefficients_that_are_no_numbers():
    with pytest.raises(ValueError, match="three coefficients"):
        Thermistor(1e-3, math.nan)


def test_a_missing_signal_stays_missing():
    assert math.isnan(Thermistor.from_beta(3950, 10_000).celsius(math.nan))


@given(st.floats(), st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1))
def test_any_numbers_give_a_temperature_in_range_or_an_error(ohms, a, b, c):
    try:
        celsius = Thermistor(a, b, c).celsius(ohms)
    except ValueError:
        return
    assert math.isnan(ohms) or -100 <= celsius <= 350

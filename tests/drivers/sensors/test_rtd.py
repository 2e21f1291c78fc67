from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.sensors import PT100, PT1000, Rtd

# IEC 60751, Pt100: 20, 60, 90, 100, 200 and -100 °C as a published table prints them; those with three
# places from rtd-sensor 0.8.0, which solves the standard's equation; the rest of the table from memory.
IEC_OHMS = {
    -200: 18.52, -100: 60.26, -50: 80.31, 0: 100.00, 4: 101.562, 20: 107.79, 40: 115.541, 50:
    119.40, 60: 123.24, 65: 125.160, 80: 130.897, 85: 132.803, 90: 134.71, 92: 135.468, 93: 135.848,
    95: 136.608, 96: 136.987, 100: 138.51, 150: 157.33, 200: 175.86, 300: 212.05, 400: 247.09, 500:
    280.98, 600: 313.71, 700: 345.28, 800: 375.70, 850: 390.48,
}  # fmt: skip


@pytest.mark.parametrize(("celsius", "ohms"), IEC_OHMS.items())
def test_the_table_of_the_standard_both_ways(celsius, ohms):
    places = 3 if round(ohms, 2) != ohms else 2
    assert round(PT100.ohms(celsius), places) == ohms
    assert PT1000.ohms(celsius) == pytest.approx(10 * PT100.ohms(celsius), rel=1e-15)
    # half a unit of the last printed digit, divided by 0.29 to 0.43 ohm/°C
    assert PT100.celsius(ohms) == pytest.approx(celsius, abs=0.02)
    assert PT1000.celsius(10 * ohms) == pytest.approx(celsius, abs=0.02)


def test_a_published_inverse():
    # rtd-sensor 0.8.0
    assert PT100.celsius(135.47) == pytest.approx(92.006, abs=0.0005)


@given(st.floats(-200, 850), st.sampled_from([100.0, 100.07, 1000.0]))
def test_the_two_directions_agree(celsius, r0_ohm):
    rtd = Rtd(r0_ohm)
    assert rtd.celsius(rtd.ohms(celsius)) == pytest.approx(celsius, abs=1e-7)


@pytest.mark.parametrize("ohms", [0.0, -5.0, 18.51, 390.5, 1e9, math.inf, -math.inf, 9.91e37])
def test_a_broken_wire_or_a_short_circuit_is_no_temperature(ohms):
    with pytest.raises(ValueError, match="is outside -200 to 850 °C"):
        PT100.celsius(ohms)


@pytest.mark.parametrize("celsius", [-200.1, 850.1, math.inf])
def test_no_resistance_outside_the_standard(celsius):
    with pytest.raises(ValueError, match="outside the standard"):
        PT100.ohms(celsius)


@pytest.mark.parametrize("r0_ohm", [0.0, -100.0, math.nan, math.inf])
def test_an_impossible_sensor(r0_ohm):
    with pytest.raises(ValueError, match="resistance at 0 °C"):
        Rtd(r0_ohm)


def test_a_missing_signal_stays_missing():
    assert math.isnan(PT100.celsius(math.nan))
    assert math.isnan(PT100.ohms(math.nan))


@given(st.floats())
def test_any_number_gives_a_temperature_of_the_standard_or_an_error(ohms):
    try:
        celsius = PT100.celsius(ohms)
    except ValueError:
        return
    assert math.isnan(ohms) or -200 <= celsius <= 850

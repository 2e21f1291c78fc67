"""The boiling point where the venue is high."""

from __future__ import annotations

import pytest
from iapws import IAPWS97

from logger.cup import air_pressure_pa, boiling_point_at_c, boiling_point_c


@pytest.mark.parametrize(
    ("altitude_m", "pascals", "celsius"),
    # Pressure by the ICAO standard atmosphere (Doc 7488, computed from its definition), boiling points by the
    # packages iapws 1.5.5 and CoolProp 8.0.0, which agree.
    [
        (0, 101325, 99.97), (300, 97773, 98.98), (500, 95461, 98.31), (1000, 89875, 96.65), (1500, 84556,
        94.98), (1609.344, 83428, 94.62), (2000, 79495, 93.32), (2240, 77155, 92.51), (2500, 74683, 91.64),
        (3000, 70109, 89.97),
    ],
)  # fmt: skip
def test_boiling_points_at_altitude(altitude_m: float, pascals: float, celsius: float) -> None:
    assert air_pressure_pa(altitude_m) == pytest.approx(pascals, abs=1.0)
    assert boiling_point_c(altitude_m) == pytest.approx(celsius, abs=0.0051)


@pytest.mark.parametrize(
    ("hectopascals", "celsius"), [(1000, 99.606), (950, 98.178), (900, 96.687), (850, 95.125), (800, 93.486)]
)
def test_boiling_points_under_a_pressure(hectopascals: float, celsius: float) -> None:
    # IAPWS-95 by iapws 1.5.5 and CoolProp 8.0.0; IF97 differs by less than a thousandth.
    assert boiling_point_at_c(100.0 * hectopascals) == pytest.approx(celsius, abs=1e-3)


def test_the_saturation_line_is_that_of_if97() -> None:
    # IAPWS R7-97, table 36: 0.1 MPa boils at 372.755919 K.
    assert boiling_point_at_c(1e5) + 273.15 == pytest.approx(372.755919, abs=5e-7)
    for pascals in range(50_000, 110_001, 5_000):
        assert boiling_point_at_c(pascals) == pytest.approx(
            IAPWS97(P=pascals / 1e6, x=0).T - 273.15, abs=1e-6
        )


def test_a_published_rule_of_thumb_is_near() -> None:
    # A linear rule, 0.00321 °C less for each metre: 95.11 °C at 1524 m, within 0.25 °C below 2000 m.
    assert boiling_point_c(1524) == pytest.approx(95.11, abs=0.25)


@pytest.mark.parametrize("altitude_m", [-501, 5001, float("nan")])
def test_no_place_to_brew(altitude_m: float) -> None:
    with pytest.raises(ValueError, match="an altitude is between -500 and 5000 m"):
        boiling_point_c(altitude_m)


@pytest.mark.parametrize("pascals", [101.3, 1013.0, 200_000.0, float("nan")])
def test_no_air_to_brew_in(pascals: float) -> None:
    with pytest.raises(ValueError, match="the air has between 500 and 1100 hPa"):
        boiling_point_at_c(pascals)

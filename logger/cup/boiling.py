"""At which temperature water boils, where the venue is high or the weather low."""

from __future__ import annotations

import math

LOWEST_M, HIGHEST_M = -500.0, 5000.0
"""From below the shore of the lowest lakes to above the highest towns."""

LOWEST_PA, HIGHEST_PA = 50_000.0, 110_000.0

SEA_LEVEL_PA, _SEA_LEVEL_K, _LAPSE_K_M = 101_325.0, 288.15, 0.0065
_EXPONENT = 9.80665 / (287.05287 * _LAPSE_K_M)

# IAPWS-IF97 (IAPWS R7-97), table 34, the coefficients of region 4, in the order in which the formula takes
# them.
_N3, _N6 = -0.17073846940092e2, 0.14915108613530e2
_N1, _N4, _N7 = 0.11670521452767e4, 0.12020824702470e5, -0.48232657361591e4
_N2, _N5, _N8 = -0.72421316703206e6, -0.32325550322333e7, 0.40511340542057e6
_N9, _N10 = -0.23855557567849, 0.65017534844798e3


def air_pressure_pa(altitude_m: float) -> float:
    """The air's pressure by the ICAO standard atmosphere (ICAO Doc 7488), which is that of an average day.

    Weather moves it by some 15 hPa to either side (common knowledge), which moves the boiling point by 0.4
    °C.

    :param altitude_m: above the sea, -500 to 5000
    :raises ValueError: outside of that
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise ValueError(f"{altitude_m:g} m: an altitude is between {LOWEST_M:g} and {HIGHEST_M:g} m")
    return SEA_LEVEL_PA * float((1.0 - _LAPSE_K_M * altitude_m / _SEA_LEVEL_K) ** _EXPONENT)


def boiling_point_at_c(pressure_pa: float) -> float:
    """At which temperature water boils under some pressure: IAPWS-IF97, equation 31, the saturation line.

    :param pressure_pa: 50,000 to 110,000, as a barometer shows it where the kettle stands, not as the weather
        report gives it for the sea's level
    :raises ValueError: outside of that
    """
    if not LOWEST_PA <= pressure_pa <= HIGHEST_PA:
        least_hpa, most_hpa = LOWEST_PA / 100.0, HIGHEST_PA / 100.0
        raise ValueError(
            f"{pressure_pa / 100.0:g} hPa: the air has between {least_hpa:g} and {most_hpa:g} hPa"
        )
    beta = (pressure_pa / 1e6) ** 0.25
    e = beta**2 + _N3 * beta + _N6
    f = _N1 * beta**2 + _N4 * beta + _N7
    g = _N2 * beta**2 + _N5 * beta + _N8
    d = 2.0 * g / (-f - math.sqrt(f**2 - 4.0 * e * g))
    kelvin: float = (_N10 + d - math.sqrt((_N10 + d) ** 2 - 4.0 * (_N9 + _N10 * d))) / 2.0
    return kelvin - 273.15


def boiling_point_c(altitude_m: float) -> float:
    """At which temperature water boils on an average day.

    :param altitude_m: above the sea, -500 to 5000
    :raises ValueError: outside of that
    """
    return boiling_point_at_c(air_pressure_pa(altitude_m))

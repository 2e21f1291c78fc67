"""What temperature does to a refractometer's reading: water bends light less when it is warm."""

from __future__ import annotations

from logger.cup.water import water_density_kg_m3

REFERENCE_C = 20.0
"""The temperature of the Brix scale (ICUMSA, OIV)."""

# IAPWS R9-97, table 1.
_A = (
    0.244257733, 9.74634476e-3, -3.73234996e-3, 2.68678472e-4, 1.58920570e-3, 2.45934259e-3,
    0.900704920, -1.66626219e-2,
)  # fmt: skip
_ULTRAVIOLET, _INFRARED = 0.2292020, 5.432937

_INDEX_PER_BRIX = 0.00143
"""By how much each °Bx raises the index near water: (1.3478 - 1.3330) / 10 = 0.00148 over the first ten,
less at first (sucrose at 20 °C, table of the CRC handbook)."""

_MORE_PER_BRIX = 0.013
"""By how much more a solution's index falls with warmth than water's, for each °Bx. Held against the two
values that OIV-MA-AS2-02, table I, gives at 10 °Bx."""

CORRECTION_DOUBT = 0.10
"""Standard uncertainty of the correction, as a share of it: coffee is not sugar."""


def refractive_index(celsius: float) -> float:
    """Refractive index of water for the sodium line, 589.3 nm, at sea level (IAPWS R9-97).

    :param celsius: 0 to 100
    :raises ValueError: outside of that
    """
    light = 0.5893 / 0.589
    heat = (celsius + 273.15) / 273.15
    density = water_density_kg_m3(celsius) / 1000.0
    sum_of_terms = (
        _A[0]
        + _A[1] * density
        + _A[2] * heat
        + _A[3] * light**2 * heat
        + _A[4] / light**2
        + _A[5] / (light**2 - _ULTRAVIOLET**2)
        + _A[6] / (light**2 - _INFRARED**2)
        + _A[7] * density**2
    )
    bent = density * sum_of_terms
    return float(((1.0 + 2.0 * bent) / (1.0 - bent)) ** 0.5)


def temperature_correction_bx(shown_bx: float, sample_c: float, zero_c: float = REFERENCE_C) -> float:
    """What to add to the reading of an instrument that does not correct for temperature by itself.

    :param shown_bx: what it showed
    :param sample_c: the sample's temperature
    :param zero_c: that of the water on which it was set to nought; 20 where it was set by its maker
    :raises ValueError: outside 0 to 100 °C
    """
    of_water = (refractive_index(zero_c) - refractive_index(sample_c)) / _INDEX_PER_BRIX
    return of_water * (1.0 + _MORE_PER_BRIX * shown_bx)

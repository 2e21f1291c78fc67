"""Grams of water as millilitres: hot water takes more room."""

from __future__ import annotations

_COEFFICIENTS = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_DIVISOR = 16.879850e-3


def water_density_kg_m3(celsius: float) -> float:
    """Density of water without air in it, at sea level.

    Kell, G. S. (1975), J. Chem. Eng. Data 20, 97-105, equation 16.

    :param celsius: 0 to 100
    :raises ValueError: outside of that
    """
    if not 0.0 <= celsius <= 100.0:
        raise ValueError(f"{celsius} °C: liquid water is between 0 and 100 °C")
    polynomial = sum(coefficient * celsius**power for power, coefficient in enumerate(_COEFFICIENTS))
    return polynomial / (1.0 + _DIVISOR * celsius)


def millilitres(grams: float, celsius: float) -> float:
    """The volume of some water.

    :param grams: its mass
    :param celsius: its temperature, 0 to 100
    :raises ValueError: outside of that
    """
    return 1000.0 * grams / water_density_kg_m3(celsius)

"""Platinum resistance thermometers, Pt100 and Pt1000, by the equation of Callendar and Van Dusen.

R = R0 (1 + A t + B t² + C (t - 100) t³), C only below 0 °C; coefficients of IEC 60751.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_A, _B, _C = 3.9083e-3, -5.775e-7, -4.183e-12

LOW_C, HIGH_C = -200.0, 850.0
"""The range of the standard, °C."""

_STEPS = 20
_CLOSE_ENOUGH_C = 1e-10
_LAST_DIGIT = 0.00005
"""Rounding of the printed table, as a part of R0: its first and last line are still inside."""


@dataclass(frozen=True, slots=True)
class Rtd:
    """A platinum resistor.

    :param r0_ohm: its resistance at 0 °C, ohm; from a calibration at the ice point where there is one
    :raises ValueError: when that is no resistance
    """

    r0_ohm: float

    def __post_init__(self) -> None:
        if not 0.0 < self.r0_ohm < math.inf:
            raise ValueError(f"{self.r0_ohm:g} ohm cannot be the resistance at 0 °C")

    def ohms(self, celsius: float) -> float:
        """Give the resistance, ohm.

        :raises ValueError: outside -200 to 850 °C
        """
        if math.isnan(celsius):
            return math.nan
        if not LOW_C <= celsius <= HIGH_C:
            raise ValueError(f"{celsius:g} °C is outside the standard's {LOW_C:g} to {HIGH_C:g} °C")
        return self.r0_ohm * _ratio(celsius)[0]

    def celsius(self, ohms: float) -> float:
        """Give the temperature, °C.

        :raises ValueError: when it would be outside -200 to 850 °C
        """
        if math.isnan(ohms):
            return math.nan
        ratio = ohms / self.r0_ohm
        if not _LOW_RATIO - _LAST_DIGIT <= ratio <= _HIGH_RATIO + _LAST_DIGIT:
            raise ValueError(
                f"{ohms:g} ohm is outside {LOW_C:g} to {HIGH_C:g} °C "
                f"({self.r0_ohm * _LOW_RATIO:.4g} to {self.r0_ohm * _HIGH_RATIO:.4g} ohm)"
            )
        celsius = (-_A + math.sqrt(_A * _A - 4.0 * _B * (1.0 - ratio))) / (2.0 * _B)
        return min(max(celsius if ratio >= 1.0 else _refined(ratio, celsius), LOW_C), HIGH_C)


def _ratio(celsius: float) -> tuple[float, float]:
    """Give R / R0 and its slope per °C."""
    value = 1.0 + celsius * (_A + celsius * _B)
    slope = _A + 2.0 * _B * celsius
    if celsius < 0.0:
        value += _C * (celsius - 100.0) * celsius**3
        slope += _C * (4.0 * celsius - 300.0) * celsius**2
    return value, slope


def _refined(ratio: float, celsius: float) -> float:
    for _ in range(_STEPS):
        value, slope = _ratio(celsius)
        step = (value - ratio) / slope
        celsius -= step
        if abs(step) < _CLOSE_ENOUGH_C:
            break
    return celsius


_LOW_RATIO, _HIGH_RATIO = _ratio(LOW_C)[0], _ratio(HIGH_C)[0]

PT100 = Rtd(100.0)
PT1000 = Rtd(1000.0)

"""What one step of a field may stand for, and how likely that is before anything has been measured.

A field counts ``number = per_unit * load + offset``. Most instruments count in tenths, hundredths or
thousandths of a gram; fewer in ounces, in twos or fives, or in halvings; some hand out the bare counts of
their converter, with a factor of their own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from drivers.decoders.units import UNITS
from drivers.learn.captures.capture import Quantity

_MANTISSAS = {1: 0.0, 2: 2.0, 5: 2.0, 25: 5.0}
_TOO_FINE = {"oz": -4, "lb": -5}
_OUNCE_MORE, _POUND_MORE, _HALVING = 1.5, 3.0, 4.0
_KILOGRAMS = 1.0
"""A float of either is likelier to be kg than ounces; whole ones are no scale's."""
ODD = 7.0
"""How unlikely a factor of no round kind is, in natural logarithms below a tenth of a gram."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A round meaning of one step.

    :param scale: what one step stands for, in ``unit``
    :param unit: a key of ``UNITS``
    :param cost: how unlikely it is, a natural logarithm; 0 for the likeliest
    :param tolerance: by what share of itself an instrument of this kind may be out of calibration
    """

    scale: Fraction
    unit: str
    cost: float
    tolerance: float

    @property
    def per_unit(self) -> float:
        """Steps per g or per °C."""
        return _per_unit(self.scale, self.unit)

    @property
    def offset(self) -> float:
        """The number that stands for 0 g or 0 °C."""
        return _offset(self.scale, self.unit)


@cache
def _per_unit(scale: Fraction, unit: str) -> float:
    return float(1 / (scale * UNITS[unit].factor))


@cache
def _offset(scale: Fraction, unit: str) -> float:
    return float(-UNITS[unit].plus * Fraction(1) / (scale * UNITS[unit].factor))


def _decades(unit: str, lowest: int, highest: int, more: float, tolerance: float) -> list[Scale]:
    found = []
    for exponent in range(lowest, highest + 1):
        for mantissa, cost in _MANTISSAS.items():
            scale = Fraction(mantissa) * Fraction(10) ** exponent
            if mantissa == 25:
                scale /= 10
            extra = abs(exponent + 1.5) * 0.3 + 2.0 * max(0, lowest + 3 - exponent) * (unit == "g")
            near = {1: tolerance, 25: tolerance / 12}.get(mantissa, tolerance / 3)
            if unit != "g" and exponent <= _TOO_FINE.get(unit, -9):
                near /= 4  # so fine a step is rather a converter's own
            found.append(Scale(scale, unit, more + cost + extra, near))
    return found


def _halvings(unit: str, tolerance: float) -> list[Scale]:
    return [Scale(Fraction(1, 1 << n), unit, _HALVING, tolerance) for n in range(1, 17) if n not in (0,)]


_WEIGHT = (
    *_decades("g", -6, 1, 0.0, 0.004),
    *_decades("oz", -5, 0, _OUNCE_MORE, 0.0012),
    *_decades("lb", -6, 0, _POUND_MORE, 0.0008),
    *_halvings("g", 0.0004),
    Scale(Fraction(1), "kg", _KILOGRAMS, 0.004),
)
_TEMPERATURE = (
    *_decades("°C", -4, 0, 0.0, 0.03),
    *_decades("°F", -3, 0, 1.0, 0.03),
    *_decades("K", -3, 0, 1.5, 0.03),
    *_halvings("°C", 0.02),
)


def is_halved(scale: Scale) -> bool:
    """Say whether a step is 1/16, 1/32 ... of a unit: a byte of another field makes it 1/256."""
    below = scale.scale.denominator
    return below > 8 and below & (below - 1) == 0 and scale.scale.numerator == 1


def round_scales(quantity: Quantity) -> tuple[Scale, ...]:
    """Give every round meaning that a step may have."""
    return _WEIGHT if quantity == "weight" else _TEMPERATURE


def shown(value: float, uncertainty: float) -> Fraction:
    """Write a measured factor with two digits more than its uncertainty warrants."""
    if not uncertainty or not math.isfinite(uncertainty):
        return Fraction(f"{value:.9g}")
    digits = max(4, min(12, math.ceil(math.log10(abs(value) / uncertainty)) + 3)) if value else 4
    return Fraction(f"{value:.{digits}g}")

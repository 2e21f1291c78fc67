"""The units that devices use, turned into g and °C exactly: 57 steps of 0.01 g are 0.57 g."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from drivers.reading import CELSIUS, GRAM, Unit


@dataclass(frozen=True, slots=True)
class UnitOf:
    """How a device's unit becomes ours: ``value * factor + plus``."""

    unit: Unit
    factor: Fraction = Fraction(1)
    plus: Fraction = Fraction(0)


# The international avoirdupois pound is exactly 453.59237 g, an ounce its sixteenth (NIST SP 811, B.8).
_LB_G = Fraction(45359237, 100000)
_FAHRENHEIT = UnitOf(CELSIUS, Fraction(5, 9), Fraction(-160, 9))

UNITS = {
    "mg": UnitOf(GRAM, Fraction(1, 1000)),
    "g": UnitOf(GRAM),
    "kg": UnitOf(GRAM, Fraction(1000)),
    "oz": UnitOf(GRAM, _LB_G / 16),
    "lb": UnitOf(GRAM, _LB_G),
    "°C": UnitOf(CELSIUS),
    "°F": _FAHRENHEIT,
    "K": UnitOf(CELSIUS, Fraction(1), Fraction(-27315, 100)),
}

SPELLINGS = {"C": "°C", "F": "°F", "c": "°C", "f": "°F", "k": "K"}
"""Other ways to write them, for keyboards without °."""


def unit_named(text: str) -> str | None:
    """Find a unit by its name; None where there is no such unit."""
    text = SPELLINGS.get(text, text)
    return text if text in UNITS else None


def units_of(quantity: Unit) -> tuple[str, ...]:
    """Give the names of all units of a quantity."""
    return tuple(name for name, unit in UNITS.items() if unit.unit == quantity)

"""Thermistors whose resistance falls as they warm, by the equation of Steinhart and Hart.

1/T = A + B ln R + C (ln R)³, T in kelvin, R in ohm. A data sheet gives A, B, C, or a table to take three
pairs from, or R at 25 °C and a "beta", which is the same equation with C = 0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

_ZERO_C_K = 273.15

LOW_C, HIGH_C = -100.0, 350.0
"""No thermistor of this kind is used outside, °C; a result there is a broken wire or a wrong coefficient."""


@dataclass(frozen=True, slots=True)
class Thermistor:
    """A thermistor, by its coefficients.

    :raises ValueError: when one of them is not a number
    """

    a: float
    b: float
    c: float = 0.0

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.a, self.b, self.c))):
            raise ValueError(f"{self.a:g}, {self.b:g}, {self.c:g} are not three coefficients")

    @classmethod
    def from_pairs(cls, pairs: Sequence[tuple[float, float]]) -> Self:
        """Find the coefficients from three pairs of a table or a calibration.

        :param pairs: ohm and °C, in any order; best at both ends and in the middle of what will be measured
        :raises ValueError: when they are no three different pairs of a thermistor that falls
        """
        if len(pairs) != 3:
            raise ValueError(f"{len(pairs)} pairs where 3 are needed")
        ordered = sorted(pairs)
        if not all(0.0 < ohms < math.inf and LOW_C <= celsius <= HIGH_C for ohms, celsius in ordered):
            raise ValueError(
                f"a pair is ohm, above 0, and °C between {LOW_C:g} and {HIGH_C:g}, not {list(pairs)}"
            )
        if not (ordered[0][1] > ordered[1][1] > ordered[2][1] and len({ohms for ohms, _ in ordered}) == 3):
            raise ValueError("the resistance must fall from each temperature to the next warmer one")
        thermistor = cls(*_solved(ordered))
        for ohms, _ in ordered:  # a curve that turns back between the pairs is none
            thermistor.celsius(ohms)
        return thermistor

    @classmethod
    def from_beta(cls, beta_k: float, r0_ohm: float, celsius: float = 25.0) -> Self:
        """Take the coefficients from a data sheet's beta.

        :param beta_k: kelvin
        :param r0_ohm: the resistance at ``celsius``, ohm
        :raises ValueError: when one of them is impossible
        """
        if not (0.0 < beta_k < math.inf and 0.0 < r0_ohm < math.inf and LOW_C <= celsius <= HIGH_C):
            raise ValueError(f"beta {beta_k:g} K with {r0_ohm:g} ohm at {celsius:g} °C is no thermistor")
        return cls(1.0 / (celsius + _ZERO_C_K) - math.log(r0_ohm) / beta_k, 1.0 / beta_k)

    def celsius(self, ohms: float) -> float:
        """Give the temperature, °C.

        :raises ValueError: when no resistance of this thermistor between -100 and 350 °C is this one
        """
        if math.isnan(ohms):
            return math.nan
        if not 0.0 < ohms < math.inf:
            raise ValueError(f"{ohms:g} ohm is not the resistance of a thermistor")
        log = math.log(ohms)
        per_kelvin = self.a + log * (self.b + self.c * log * log)
        # Outside its range the equation can turn back; there the slope has the wrong sign.
        falls = self.b + 3.0 * self.c * log * log > 0.0
        celsius = 1.0 / per_kelvin - _ZERO_C_K if per_kelvin > 0.0 else math.inf
        if not (falls and LOW_C <= celsius <= HIGH_C):
            raise ValueError(f"{ohms:g} ohm is not within {LOW_C:g} to {HIGH_C:g} °C of this thermistor")
        return celsius


def _solved(pairs: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Solve for A, B, C by divided differences."""
    (l1, y1), (l2, y2), (l3, y3) = ((math.log(ohms), 1.0 / (celsius + _ZERO_C_K)) for ohms, celsius in pairs)
    slope2, slope3 = (y2 - y1) / (l2 - l1), (y3 - y1) / (l3 - l1)
    c = (slope3 - slope2) / (l3 - l2) / (l1 + l2 + l3)
    b = slope2 - c * (l1 * l1 + l1 * l2 + l2 * l2)
    return y1 - l1 * (b + c * l1 * l1), b, c

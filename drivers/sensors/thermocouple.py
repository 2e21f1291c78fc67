"""Thermocouples of types K and T on the scale ITS-90.

A thermocouple tells the difference between two ends. Reference functions give the voltage of a junction at
t against one at 0 °C, so the end at the instrument ("cold junction") is made good in millivolts, never in
degrees: ``t = inverse(mV + emf(cold end))``.

Coefficients: NIST Standard Reference Database 60 (Monograph 175). Its inverse polynomials are good to
0.06 °C; here they are only the start of Newton steps on the reference function, so that both directions
agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_STEPS = 20  # three are enough but near absolute zero
_CLOSE_ENOUGH_C = 1e-5  # of a step; what is left after it is about its square
_LAST_DIGIT_MV = 0.0005
"""Rounding of the printed tables: their last line is still inside."""


@dataclass(frozen=True, slots=True)
class _Reference:
    """The voltage in mV as a polynomial of °C, least power first; type K has a hump besides.

    :param hump: a0, a1, a2 of ``a0 * exp(a1 * (t - a2)**2)``
    """

    coefficients: tuple[float, ...]
    hump: tuple[float, float, float] | None = None

    def at(self, celsius: float) -> tuple[float, float]:
        """Give the voltage, mV, and its slope, mV/°C."""
        value = slope = 0.0
        for coefficient in reversed(self.coefficients):
            slope = slope * celsius + value
            value = value * celsius + coefficient
        if self.hump is not None:
            height, width, centre = self.hump
            more = height * math.exp(width * (celsius - centre) ** 2)
            value += more
            slope += 2.0 * width * (celsius - centre) * more
        return value, slope


@dataclass(frozen=True, slots=True)
class _Inverse:
    """A first guess of °C as a polynomial of mV, up to a voltage."""

    up_to_mv: float
    coefficients: tuple[float, ...]

    def at(self, mv: float) -> float:
        value = 0.0
        for coefficient in reversed(self.coefficients):
            value = value * mv + coefficient
        return value


@dataclass(frozen=True, slots=True)
class Thermocouple:
    """One type of thermocouple.

    :param low_c: the coldest end of its table, °C
    :param high_c: the hottest
    """

    letter: str
    low_c: float
    high_c: float
    below_zero: _Reference
    above_zero: _Reference
    inverses: tuple[_Inverse, ...]

    def emf_mv(self, celsius: float) -> float:
        """Give the voltage of a junction against one at 0 °C, mV.

        :raises ValueError: outside the table
        """
        if math.isnan(celsius):
            return math.nan
        if not self.low_c <= celsius <= self.high_c:
            raise ValueError(f"{celsius:g} °C is outside {self._table}")
        return self._at(celsius)[0]

    def celsius(self, mv: float, cold_c: float = 0.0) -> float:
        """Give the temperature of the tip, °C.

        :param mv: the voltage at the instrument, mV
        :param cold_c: the temperature of the terminals there, °C
        :raises ValueError: when the tip, or the terminals, would be outside the table
        """
        whole_mv = mv + self.emf_mv(cold_c)
        if math.isnan(whole_mv):
            return math.nan
        low_mv, high_mv = self._at(self.low_c)[0], self._at(self.high_c)[0]
        if not low_mv - _LAST_DIGIT_MV <= whole_mv <= high_mv + _LAST_DIGIT_MV:
            raise ValueError(f"{mv:g} mV with terminals at {cold_c:g} °C is outside {self._table}")
        return self._inverted(whole_mv)

    @property
    def _table(self) -> str:
        return f"the table of type {self.letter}, {self.low_c:g} to {self.high_c:g} °C"

    def _at(self, celsius: float) -> tuple[float, float]:
        return (self.above_zero if celsius > 0.0 else self.below_zero).at(celsius)

    def _inverted(self, mv: float) -> float:
        guess = next(inverse for inverse in self.inverses if mv <= inverse.up_to_mv)
        celsius = min(max(guess.at(mv), self.low_c), self.high_c)
        for _ in range(_STEPS):
            emf_mv, slope = self._at(celsius)
            step = (emf_mv - mv) / slope
            celsius = min(max(celsius - step, self.low_c), self.high_c)
            if abs(step) < _CLOSE_ENOUGH_C:
                break
        return celsius


TYPE_K = Thermocouple(
    "K",
    low_c=-270.0,
    high_c=1372.0,
    below_zero=_Reference(
        (
            0.0,
            0.394501280250e-01,
            0.236223735980e-04,
            -0.328589067840e-06,
            -0.499048287770e-08,
            -0.675090591730e-10,
            -0.574103274280e-12,
            -0.310888728940e-14,
            -0.104516093650e-16,
            -0.198892668780e-19,
            -0.163226974860e-22,
        )
    ),
    above_zero=_Reference(
        (
            -0.176004136860e-01,
            0.389212049750e-01,
            0.185587700320e-04,
            -0.994575928740e-07,
            0.318409457190e-09,
            -0.560728448890e-12,
            0.560750590590e-15,
            -0.320207200030e-18,
            0.971511471520e-22,
            -0.121047212750e-25,
        ),
        hump=(0.118597600000e00, -0.118343200000e-03, 0.126968600000e03),
    ),
    inverses=(
        _Inverse(-5.891, (528.19, 123.602)),  # no table below -200 °C: a line through both ends
        _Inverse(
            0.0,
            (
                0.0,
                2.5173462e01,
                -1.1662878e00,
                -1.0833638e00,
                -8.9773540e-01,
                -3.7342377e-01,
                -8.6632643e-02,
                -1.0450598e-02,
                -5.1920577e-04,
            ),
        ),
        _Inverse(
            20.644,
            (
                0.0,
                2.508355e01,
                7.860106e-02,
                -2.503131e-01,
                8.315270e-02,
                -1.228034e-02,
                9.804036e-04,
                -4.413030e-05,
                1.057734e-06,
                -1.052755e-08,
            ),
        ),
        _Inverse(
            math.inf,
            (
                -1.318058e02,
                4.830222e01,
                -1.646031e00,
                5.464731e-02,
                -9.650715e-04,
                8.802193e-06,
                -3.110810e-08,
            ),
        ),
    ),
)

TYPE_T = Thermocouple(
    "T",
    low_c=-270.0,
    high_c=400.0,
    below_zero=_Reference(
        (
            0.0,
            0.387481063640e-01,
            0.441944343470e-04,
            0.118443231050e-06,
            0.200329735540e-07,
            0.901380195590e-09,
            0.226511565930e-10,
            0.360711542050e-12,
            0.384939398830e-14,
            0.282135219250e-16,
            0.142515947790e-18,
            0.487686622860e-21,
            0.107955392700e-23,
            0.139450270620e-26,
            0.797951539270e-30,
        )
    ),
    above_zero=_Reference(
        (
            0.0,
            0.387481063640e-01,
            0.332922278800e-04,
            0.206182434040e-06,
            -0.218822568460e-08,
            0.109968809280e-10,
            -0.308157587720e-13,
            0.454791352900e-16,
            -0.275129016730e-19,
        )
    ),
    inverses=(
        _Inverse(-5.603, (399.207, 106.9446)),  # no table below -200 °C: a line through both ends
        _Inverse(
            0.0,
            (
                0.0,
                2.5949192e01,
                -2.1316967e-01,
                7.9018692e-01,
                4.2527777e-01,
                1.3304473e-01,
                2.0241446e-02,
                1.2668171e-03,
            ),
        ),
        _Inverse(
            math.inf,
            (
                0.0,
                2.592800e01,
                -7.602961e-01,
                4.637791e-02,
                -2.165394e-03,
                6.048144e-05,
                -7.293422e-07,
            ),
        ),
    ),
)

THERMOCOUPLES = {thermocouple.letter: thermocouple for thermocouple in (TYPE_K, TYPE_T)}

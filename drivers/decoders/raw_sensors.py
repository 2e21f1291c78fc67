"""Raw signals in lines and frames: load-cell counts, millivolts and ohms, with what turns them into g and °C.

The mathematics is in ``drivers.sensors``; here is which calibration goes with which channel, and that a
signal outside a sensor's range (a broken wire, a short circuit) is no value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from drivers.sensors import PT100, PT1000, THERMOCOUPLES, LoadCell, Thermistor

COUNTS, THERMOCOUPLE_MV, RTD_OHM, THERMISTOR_OHM = "counts", "thermocouple_mv", "rtd_ohm", "thermistor_ohm"
RAW_WORDS = (COUNTS, THERMOCOUPLE_MV, RTD_OHM, THERMISTOR_OHM)
COLD_C = "cold_c"

RTDS = {"pt100": PT100, "pt1000": PT1000}
THERMOCOUPLE_TYPES = tuple(THERMOCOUPLES)

RawToValue = Callable[[float, float | None], float]
"""A raw signal and the cold junction's °C, where the device sends it, to g or °C; NaN where there is none."""


@dataclass(frozen=True, slots=True)
class Sensor:
    """What is known of the sensors behind one channel, or behind all; None and "" where nothing is.

    :param zero: counts of the empty pan
    :param counts_per_g: negative where the cell is mounted the other way round
    :param converter_bits: of the load cell's converter, whose two end codes are no weights
    :param thermocouple: ``K`` or ``T``
    :param cold_c: temperature of the thermocouple's terminals, °C, where the device does not send it
    :param rtd: ``pt100`` or ``pt1000``
    :param thermistor: A, B, C of Steinhart and Hart
    """

    zero: float = 0.0
    counts_per_g: float | None = None
    converter_bits: int | None = None
    thermocouple: str = ""
    cold_c: float | None = None
    rtd: str = ""
    thermistor: tuple[float, float, float] | None = None

    @property
    def step_g(self) -> float | None:
        """What one count of the load cell is, g; None where that is not known."""
        return 1.0 / abs(self.counts_per_g) if self.counts_per_g else None

    def missing(self, word: str, has_cold_field: bool = False) -> tuple[str, str] | None:
        """Say what a raw signal still needs: what it is, and an example; None where nothing is missing."""
        if word == COUNTS and self.counts_per_g is None:
            return "how many counts one gram makes is not known", "counts_per_g=421.3"
        if word == THERMOCOUPLE_MV and not self.thermocouple:
            return "the type of the thermocouple is not known", "thermocouple=K"
        if word == THERMOCOUPLE_MV and self.cold_c is None and not has_cold_field:
            return (
                "the temperature of the thermocouple's terminals is not known (0 where it is made good)",
                "cold_c=25",
            )
        if word == RTD_OHM and not self.rtd:
            return "the kind of the platinum sensor is not known", "rtd=pt100"
        if word == THERMISTOR_OHM and self.thermistor is None:
            return "the coefficients of the thermistor are not known", "thermistor=1.129e-3,2.341e-4,8.767e-8"
        return None

    def converter(self, word: str) -> RawToValue:
        """Give what turns a raw signal into g or °C.

        :raises ValueError: when the calibration is missing or cannot be
        """
        if (missing := self.missing(word, has_cold_field=True)) is not None:
            raise ValueError(missing[0])
        if word == COUNTS:
            return _ignoring_cold(self._load_cell().grams)
        if word == RTD_OHM:
            return _ignoring_cold(RTDS[self.rtd].celsius)
        if word == THERMISTOR_OHM:
            return _ignoring_cold(Thermistor(*(self.thermistor or ())).celsius)
        return self._thermocouple()

    def _load_cell(self) -> LoadCell:
        counts_per_g = self.counts_per_g or 0.0
        if self.converter_bits is None:
            return LoadCell(self.zero, counts_per_g)
        half = 1 << (self.converter_bits - 1)
        return LoadCell(self.zero, counts_per_g, -half, half - 1)

    def _thermocouple(self) -> RawToValue:
        thermocouple, fixed_c = THERMOCOUPLES[self.thermocouple], self.cold_c

        def celsius(mv: float, cold_c: float | None) -> float:
            known_c = fixed_c if cold_c is None else cold_c
            try:
                return math.nan if known_c is None else thermocouple.celsius(mv, known_c)
            except ValueError:
                return math.nan

        return celsius


@dataclass(frozen=True, slots=True)
class SensorSet:
    """The sensors of a device: one for all channels, and those that single channels have of their own."""

    common: Sensor = Sensor()
    by_channel: Mapping[str, Sensor] = field(default_factory=lambda: MappingProxyType({}))

    def of(self, channel: str | None) -> Sensor:
        """Give the sensor behind a channel."""
        return self.common if channel is None else self.by_channel.get(channel, self.common)


def _ignoring_cold(convert: Callable[[float], float]) -> RawToValue:
    def value(raw: float, _: float | None) -> float:
        try:
            return convert(raw)
        except ValueError:
            return math.nan

    return value

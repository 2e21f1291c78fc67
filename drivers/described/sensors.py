"""The sensors of a description: what turns raw signals into g and °C, for all channels or for one."""

from __future__ import annotations

import math
from collections.abc import Sequence

from drivers.decoders.raw_sensors import RTDS, THERMOCOUPLE_TYPES, Sensor, SensorSet
from drivers.described.form import DescriptionForm
from drivers.toml_form import kind_of


def read_sensors(forms: Sequence[DescriptionForm]) -> SensorSet:
    """Read every ``[[sensor]]``."""
    common: Sensor | None = None
    by_channel: dict[str, Sensor] = {}
    for form in forms:
        channel = form.text("channel")
        if channel in by_channel or (not channel and common is not None):
            whose = f"the channel {channel}" if channel else "all channels"
            form.remark("channel", f"another sensor is for {whose}", "Keep one of the two.")
        sensor = _sensor(form)
        if channel:
            by_channel[channel] = sensor
        else:
            common = sensor
    return SensorSet(common or Sensor(), by_channel)


def _sensor(form: DescriptionForm) -> Sensor:
    counts_per_g = form.number("counts_per_g", example="421.3")
    if counts_per_g == 0:
        remedy = "Write the counts that one gram makes, as counts_per_g = 421.3."
        form.remark("counts_per_g", "0 counts per gram weigh nothing", remedy)
    cold_c = form.number("cold_c", example="25.0")
    if cold_c is not None and (cold_c < -50.0 or cold_c > 150.0):
        form.remark("cold_c", f"{cold_c:g} °C is no place for an instrument", "Write the terminals' °C.")
    return Sensor(
        zero=form.number("zero", example="8400") or 0.0,
        counts_per_g=counts_per_g,
        converter_bits=form.whole("converter_bits", 8, 64),
        thermocouple=form.choice("thermocouple", THERMOCOUPLE_TYPES, ""),
        cold_c=cold_c,
        rtd=form.choice("rtd", tuple(RTDS), ""),
        thermistor=_thermistor(form),
    )


def _thermistor(form: DescriptionForm) -> tuple[float, float, float] | None:
    value = form.value("thermistor")
    if value is None:
        return None
    listed = value if isinstance(value, list) else []
    numbers = [float(n) for n in listed if isinstance(n, int | float) and not isinstance(n, bool)]
    if len(numbers) != 3 or len(listed) != 3 or not all(map(math.isfinite, numbers)):
        remedy = "Write thermistor = [1.129e-3, 2.341e-4, 8.767e-8]: A, B and C of Steinhart and Hart."
        form.remark("thermistor", f"{kind_of(value)} where three coefficients belong", remedy)
        return None
    return numbers[0], numbers[1], numbers[2]

"""Raw signals in lines: the right calibration for the right field, and no value where there is none."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import CELSIUS, GRAM, Status
from drivers.decoders.pattern import compile_pattern
from drivers.decoders.pattern_lines import PatternLines
from drivers.decoders.pattern_words import PatternError
from drivers.decoders.raw_sensors import Sensor, SensorSet
from tests.drivers.decoders.pieces import assert_pieces_agree

CELL = Sensor(zero=8400, counts_per_g=421.3)
BETA_3950 = (1 / 298.15 - math.log(1e4) / 3950, 1 / 3950, 0.0)
KETTLE = Sensor(thermocouple="K")


def read(pattern: str, line: str, sensor: Sensor = CELL):
    decoded = PatternLines(pattern, "scale", "probe", SensorSet(sensor)).decode(line.encode() + b"\n")
    assert decoded.rejected == 0, decoded.last_rejected
    return decoded.measurements


@pytest.mark.parametrize(
    ("pattern", "line", "sensor", "celsius"),
    [
        # NIST SRD 60: type K, reference junction 0 °C; the printed table has 4.096 mV at 100 °C
        ("thermocouple_mv", "4.096", Sensor(thermocouple="K", cold_c=0.0), 100.0),
        # tip 93 °C, terminals 25 °C: 3.806 - 1.000 mV (thermocouple-its90 1.0.2 and thermocouples 2.1.2)
        ("thermocouple_mv", "2.806", Sensor(thermocouple="K", cold_c=25.0), 93.0),
        ("thermocouple_mv,cold_c", "2.806,25", KETTLE, 93.0),
        ("cold_c;thermocouple_mv", "25;2.806", Sensor(thermocouple="K", cold_c=0.0), 93.0),
        # type T: 4.279 mV at 100 °C in the printed table
        ("thermocouple_mv", "4.279", Sensor(thermocouple="T", cold_c=0.0), 100.0),
        # IEC 60751: 138.5055 ohm at 100 °C for a Pt100
        ("rtd_ohm", "138.5055", Sensor(rtd="pt100"), 100.0),
        ("rtd_ohm", "1385.055", Sensor(rtd="pt1000"), 100.0),
        # by definition of the equation with C = 0: R at which 1/T = A + B ln R is 1/298.15
        ("thermistor_ohm", "10000", Sensor(thermistor=BETA_3950), 25.0),
    ],
)  # fmt: skip
def test_sensors(pattern, line, sensor, celsius):
    (temperature,) = read(pattern, line, sensor)
    assert temperature.value == pytest.approx(celsius, abs=0.03)
    assert (temperature.name, temperature.unit, temperature.status) == ("probe", CELSIUS, Status.UNKNOWN)


def test_counts_with_the_device_clock():
    (weight,) = read("time_ms,counts", "1500,92660")
    assert (weight.name, weight.unit, weight.device_time_s) == ("scale", GRAM, 1.5)
    assert weight.value == pytest.approx(200.0)


def test_a_cell_that_is_mounted_upside_down():
    (weight,) = read("counts", "-75860", Sensor(zero=8400, counts_per_g=-421.3))
    assert weight.value == pytest.approx(200.0)


@pytest.mark.parametrize(
    ("pattern", "line", "sensor"),
    [
        ("counts", "8388607", Sensor(counts_per_g=421.3, converter_bits=24)),
        ("counts", "-8388608", Sensor(counts_per_g=421.3, converter_bits=24)),
        ("counts", "nan", CELL),
        ("rtd_ohm", "1e9", Sensor(rtd="pt100")),  # a broken wire
        ("rtd_ohm", "0", Sensor(rtd="pt100")),  # a short circuit
        ("thermistor_ohm", "0", Sensor(thermistor=(1.129e-3, 2.341e-4, 8.767e-8))),
        ("thermocouple_mv", "900", Sensor(thermocouple="K", cold_c=25.0)),
        ("thermocouple_mv,cold_c", "2.806,nan", KETTLE),
        ("thermocouple_mv,cold_c", "2.806,9.91E37", KETTLE),
        ("thermocouple_mv,cold_c", "2.806,", Sensor(thermocouple="K", cold_c=25.0)),
    ],
)
def test_a_signal_that_is_none_is_no_value(pattern, line, sensor):
    (measurement,) = read(pattern, line, sensor)
    assert math.isnan(measurement.value)
    assert measurement.status is Status.ERROR


def test_a_cold_junction_is_a_channel_where_it_has_a_name():
    temperature, case = read("thermocouple_mv,case:cold_c", "2.806,25", KETTLE)
    assert temperature.value == pytest.approx(93.0, abs=0.03)
    assert (case.name, case.value) == ("case", 25.0)


def test_each_channel_may_have_its_own_calibration():
    sensors = SensorSet(CELL, {"server": Sensor(zero=-100, counts_per_g=10.0)})
    lines = PatternLines("counts,server:counts", "scale", "probe", sensors)
    scale, server = lines.decode(b"8400,0\n").measurements
    assert (scale.value, server.value) == (0.0, 10.0)
    assert lines.steps == {"scale": 1 / 421.3, "server": 0.1}


@pytest.mark.parametrize(
    ("pattern", "sensor", "position", "what"),
    [
        (
            "time_ms,counts",
            Sensor(),
            9,
            "how many counts one gram makes is not known; give it, as counts_per_g=",
        ),
        ("thermocouple_mv", Sensor(), 1, "the type of the thermocouple is not known"),
        ("thermocouple_mv", KETTLE, 1, "the temperature of the thermocouple's terminals is not known"),
        ("rtd_ohm", CELL, 1, "the kind of the platinum sensor"),
        ("weight,probe:thermistor_ohm", CELL, 8, "the coefficients of the thermistor"),
        ("counts", Sensor(zero=1e9, counts_per_g=1.0, converter_bits=24), 1, "is not between"),
        ("weight,cold_c", CELL, 8, "no thermocouple_mv that this cold_c belongs to"),
    ],
)
def test_a_missing_calibration_is_pointed_at(pattern, sensor, position, what):
    with pytest.raises(PatternError) as caught:
        PatternLines(pattern, "scale", "probe", SensorSet(sensor))
    assert caught.value.position == position
    assert what in caught.value.what


@pytest.mark.parametrize(
    ("pattern", "what"),
    [
        ("cold_c", "no weight and no temperature"),
        ("thermocouple_mv,cold_c,a:cold_c", "one cold junction"),
        ("server:counts_g", "did you mean 'counts'"),
        ("thermocouple", "did you mean 'thermocouple_mv'"),
        ("rtd:rtd_ohms", "did you mean 'rtd_ohm'"),
    ],
)
def test_a_pattern_that_cannot_be(pattern, what):
    with pytest.raises(PatternError, match=what):
        compile_pattern(pattern)


def test_words_of_a_device_that_are_near_a_sensor_s_are_left_alone():
    (weight,) = read("count=_ cold weight", "count=12 cold 3.5")
    assert weight.value == 3.5


NOISE = st.one_of(
    st.binary(max_size=30),
    st.text(alphabet="0123456789.,;+-eE nan\r\n", max_size=30).map(str.encode),
)
EVERYTHING = Sensor(8400, 421.3, 24, "T", 25.0, "pt100", (1.129e-3, 2.341e-4, 8.767e-8))


@pytest.mark.parametrize(
    "pattern",
    ["counts", "thermocouple_mv,cold_c", "rtd_ohm;thermistor_ohm", "time_s,counts,case:temperature"],
)
@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 300), max_size=6))
def test_any_bytes_in_any_pieces_give_the_same(pattern, data, cuts):
    assert_pieces_agree(PatternLines(pattern, sensors=SensorSet(EVERYTHING)), data, cuts)


@pytest.mark.parametrize("pattern", ["counts", "thermocouple_mv", "rtd_ohm", "thermistor_ohm"])
@given(st.floats())
def test_any_number_is_a_value_or_none(pattern, number):
    (measurement,) = read(pattern, repr(number), EVERYTHING)
    assert math.isfinite(measurement.value) == measurement.status.has_value

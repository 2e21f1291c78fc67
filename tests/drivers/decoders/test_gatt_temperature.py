from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import CELSIUS, Status
from drivers.decoders.gatt_battery import BATTERY_LEVEL, BATTERY_SERVICE, decode_battery_level
from drivers.decoders.gatt_temperature import (
    ENVIRONMENTAL_SENSING_SERVICE,
    HEALTH_THERMOMETER_SERVICE,
    INTERMEDIATE_TEMPERATURE,
    TEMPERATURE,
    TEMPERATURE_MEASUREMENT,
    decode_temperature,
    decode_temperature_measurement,
    temperature_measurement_step_c,
)
from drivers.decoders.measurement import Measurement, Rejected


def one(sent: str) -> Measurement:
    measurement = decode_temperature_measurement(bytes.fromhex(sent))
    assert isinstance(measurement, Measurement), measurement
    return measurement


@pytest.mark.parametrize(
    ("number", "name"),
    [
        (HEALTH_THERMOMETER_SERVICE, "Health Thermometer"),
        (TEMPERATURE_MEASUREMENT, "Temperature Measurement"),
        (INTERMEDIATE_TEMPERATURE, "Intermediate Temperature"),
        (ENVIRONMENTAL_SENSING_SERVICE, "Environmental Sensing"),
        (TEMPERATURE, "Temperature"),
        (BATTERY_SERVICE, "Battery Service"),
        (BATTERY_LEVEL, "Battery Level"),
    ],
)
def test_the_numbers_are_those_that_were_assigned(number, name):
    # Bluetooth SIG assigned numbers, as bleak's table of names gives them.
    from bleak.uuids import uuid16_dict

    assert uuid16_dict[number] == name


# Bluetooth SIG, Personal Health Devices Transcoding White Paper (first), stackoverflow.com question 60841331.
@pytest.mark.parametrize(
    ("sent", "celsius"), [("00 6C 01 00 FF", 36.4), ("00 97 0D 00 FE", 34.79), ("00 71 0E 00 FE", 36.97)]
)
def test_published_temperatures(sent, celsius):
    assert one(sent) == Measurement(None, celsius, CELSIUS, Status.UNKNOWN, None)


# 212 °F = 100 °C, 32 °F = 0 °C, -40 °F = -40 °C: the definition; 98.5 °F = 36.94 °C
@pytest.mark.parametrize(
    ("mantissa", "exponent", "celsius"),
    [
        (212, 0, 100.0),
        (2120, -1, 100.0),
        (32, 0, 0.0),
        (-40, 0, -40.0),
        (985, -1, 332.5 / 9),
        (2, 2, 840.0 / 9),
    ],
)
def test_fahrenheit(mantissa, exponent, celsius):
    packet = b"\x01" + (mantissa & 0xFFFFFF).to_bytes(3, "little") + bytes([exponent & 0xFF])
    assert decode_temperature_measurement(packet).value == celsius


@given(st.integers(-4000, 0x7FFFFD), st.integers(-4, 0))
def test_fahrenheit_is_rounded_once(mantissa, exponent):
    packet = b"\x01" + (mantissa & 0xFFFFFF).to_bytes(3, "little") + bytes([exponent & 0xFF])
    exact = (mantissa * Fraction(10) ** exponent - 32) * Fraction(5, 9)
    result = decode_temperature_measurement(packet)
    assert isinstance(result, Rejected) if exact < Fraction("-273.15") else result.value == float(exact)


def test_steps():
    assert temperature_measurement_step_c(bytes.fromhex("00 6C 01 00 FF")) == 0.1
    assert temperature_measurement_step_c(bytes.fromhex("00 97 0D 00 FE")) == 0.01
    assert temperature_measurement_step_c(bytes.fromhex("01 D9 03 00 FF")) == pytest.approx(0.1 / 1.8)
    assert temperature_measurement_step_c(bytes.fromhex("00 FF FF 7F 00")) is None
    assert temperature_measurement_step_c(b"\x00") is None


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ("00 FF FF 7F 00", Status.ERROR),
        ("00 00 00 80 00", Status.ERROR),
        ("00 01 00 80 00", Status.ERROR),
        ("00 FE FF 7F 00", Status.OVERLOAD),
        ("01 02 00 80 00", Status.UNDERLOAD),
    ],
)
def test_codes_that_are_no_temperature(sent, status):
    # IEEE 11073-20601: NaN, NRes, reserved, +INFINITY, -INFINITY
    measurement = one(sent)
    assert math.isnan(measurement.value)
    assert measurement.status is status


def test_the_device_clock_is_kept():
    # 2026-11-25 06:47:08 is 1 795 589 228 s after 1970 (GNU date -u -d "2026-11-25 06:47:08" +%s)
    assert one("02 6C 01 00 FF EA 07 0B 19 06 2F 08").device_time_s == 1795589228.0


@pytest.mark.parametrize(("flags", "length"), [(0, 5), (2, 12), (4, 6), (7, 13)])
def test_fields_that_the_flags_announce_must_be_there(flags, length):
    whole = bytes([flags]) + bytes.fromhex("6C 01 00 FF") + bytes(length - 5)
    assert isinstance(decode_temperature_measurement(whole), Measurement)
    assert isinstance(decode_temperature_measurement(whole[:-1]), Rejected)


def test_nothing_is_colder_than_absolute_zero():
    rejected = decode_temperature_measurement(bytes.fromhex("00 48 95 FF FE"))  # -273.36
    assert isinstance(rejected, Rejected)
    assert "absolute zero" in rejected.why


# GATT Specification Supplement, "Temperature": sint16, 0.01 °C, 0x8000 = value is not known, less than
# -273.15 prohibited.
def test_published_environmental_temperatures():
    assert decode_temperature(b"\x8c\x24") == Measurement(None, 93.56, CELSIUS)
    assert decode_temperature(b"\x4d\x95") == Measurement(None, -273.15, CELSIUS)
    unknown = decode_temperature(b"\x00\x80")
    assert math.isnan(unknown.value)
    assert unknown.status is Status.ERROR
    assert isinstance(decode_temperature(b"\x4c\x95"), Rejected)


@pytest.mark.parametrize("packet", [b"", b"\x8c", b"\x8c\x24\x00"])
def test_an_environmental_temperature_has_two_bytes(packet):
    assert isinstance(decode_temperature(packet), Rejected)


@given(st.integers(-27315, 0x7FFF))
def test_hundredths_lose_nothing(hundredths):
    packet = hundredths.to_bytes(2, "little", signed=True)
    assert decode_temperature(packet).value == float(f"{hundredths}e-2")


@given(st.binary(max_size=20))
def test_any_packet_gives_a_temperature_or_a_reason(packet):
    for result in (decode_temperature_measurement(packet), decode_temperature(packet)):
        if isinstance(result, Measurement):
            assert result.value >= -273.15 or not result.status.has_value
        else:
            assert result.why
    step = temperature_measurement_step_c(packet)
    assert step is None or step > 0
    assert decode_battery_level(packet) in {None, *range(101)}


def test_battery():
    # Bluetooth SIG, Battery Level: 0 to 100, the rest is reserved
    assert [decode_battery_level(bytes([level])) for level in (0, 97, 100)] == [0, 97, 100]
    assert [decode_battery_level(packet) for packet in (b"\x65", b"\xff", b"", b"\x10\x10")] == [None] * 4

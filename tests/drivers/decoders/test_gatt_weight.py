from __future__ import annotations

import math
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import GRAM, Status
from drivers.decoders.gatt_weight import (
    IMPERIAL_STEP_G,
    SI_STEP_G,
    WEIGHT_MEASUREMENT,
    WEIGHT_SCALE_FEATURE,
    WEIGHT_SCALE_SERVICE,
    WeightFeature,
    decode_weight_feature,
    decode_weight_measurement,
)
from drivers.decoders.measurement import Measurement, Rejected


def one(sent: str) -> Measurement:
    measurement = decode_weight_measurement(bytes.fromhex(sent))
    assert isinstance(measurement, Measurement), measurement
    return measurement


def test_the_numbers_are_those_that_were_assigned():
    # Bluetooth SIG assigned numbers, as bleak's table of names gives them.
    from bleak.uuids import uuid16_dict

    assert uuid16_dict[WEIGHT_SCALE_SERVICE] == "Weight Scale"
    assert uuid16_dict[WEIGHT_MEASUREMENT] == "Weight Measurement"
    assert uuid16_dict[WEIGHT_SCALE_FEATURE] == "Weight Scale Feature"


# Bluetooth SIG, GATT Specification Supplement, "Weight Measurement": 0.005 kg or 0.01 lb by flag bit 0. The
# pound is 453.59237 g exactly (NIST SP 811 (2008), B.8).
@pytest.mark.parametrize(
    ("sent", "weight_g"),
    [
        ("00 E8 03", 5000.0),
        ("00 64 00", 500.0),
        ("01 E8 03", 4535.9237),
        ("00 00 00", 0.0),
        ("00 FE FF", 327670.0),
    ],
)
def test_published_weights(sent, weight_g):
    assert one(sent) == Measurement(None, weight_g, GRAM, Status.UNKNOWN, None)


def test_the_device_clock_is_kept():
    measurement = one("02 F4 01 EA 07 0B 19 06 2F 08")  # 2.500 kg on 2026-11-25 at 06:47:08
    assert measurement.value == 2500.0
    then = datetime(2026, 11, 25, 6, 47, 8) - datetime(1970, 1, 1)
    assert measurement.device_time_s == then.total_seconds()


@pytest.mark.parametrize(
    "date_time",
    [
        "00 00 0B 19 06 2F 08",
        "EA 07 00 19 06 2F 08",
        "EA 07 0D 19 06 2F 08",
        "EA 07 02 1E 06 2F 08",
        "EA 07 0B 19 18 00 00",
    ],
)
def test_a_clock_that_names_no_day_costs_no_weight(date_time):
    # Date Time (0x2A08): 0 for year, month or day means "not known"
    assert one("02 F4 01" + date_time) == Measurement(None, 2500.0, GRAM, Status.UNKNOWN, None)


@pytest.mark.parametrize("sent", ["00 FF FF", "01 FF FF", "0E FF FF"])
def test_an_unsuccessful_measurement_has_no_value(sent):
    # Weight Scale Service v1.0, 3.2.1 (from memory): 0xFFFF, and then body mass index and height are left out
    measurement = one(sent)
    assert math.isnan(measurement.value)
    assert measurement.status is Status.ERROR


def test_an_unsuccessful_measurement_keeps_its_time():
    assert one("02 FF FF EA 07 0B 19 06 2F 08").device_time_s is not None


@pytest.mark.parametrize(("flags", "length"), [(0, 3), (2, 10), (4, 4), (8, 7), (6, 11), (14, 15), (15, 15)])
def test_fields_that_the_flags_announce_must_be_there(flags, length):
    whole = bytes([flags, 0x64, 0x00]) + bytes(length - 3)
    assert isinstance(decode_weight_measurement(whole), Measurement)
    cut = decode_weight_measurement(whole[:-1])
    assert isinstance(cut, Rejected)
    assert "few" in cut.why or f"announce {length} bytes" in cut.why


def test_bits_and_fields_of_a_later_edition_are_ignored():
    assert one("F0 64 00 12 34").value == 500.0


# Bluetooth SIG, Weight Scale Feature: bits 3 to 6, kg and lb.
@pytest.mark.parametrize(
    ("code", "kilograms", "pounds"),
    [
        (1, 0.5, 1),
        (2, 0.2, 0.5),
        (3, 0.1, 0.2),
        (4, 0.05, 0.1),
        (5, 0.02, 0.05),
        (6, 0.01, 0.02),
        (7, 0.005, 0.01),
    ],
)
def test_the_steps_that_a_scale_claims(code, kilograms, pounds):
    feature = decode_weight_feature(bytes([code << 3, 0, 0, 0]))
    assert isinstance(feature, WeightFeature)
    assert feature.si_step_g == pytest.approx(kilograms * 1000, rel=1e-15)
    assert feature.imperial_step_g == pytest.approx(pounds * 453.59237, rel=1e-15)


def test_published_features():
    finest = decode_weight_feature(bytes.fromhex("38 00 00 00"))
    assert finest == WeightFeature(False, False, False, SI_STEP_G, IMPERIAL_STEP_G)
    stamped = decode_weight_feature(bytes.fromhex("39 00 00 00"))
    assert stamped == WeightFeature(True, False, False, SI_STEP_G, IMPERIAL_STEP_G)
    assert decode_weight_feature(bytes.fromhex("06 00 00 00")) == WeightFeature(False, True, True, None, None)


@pytest.mark.parametrize("code", [0, *range(8, 16)])
def test_a_step_that_is_not_told_is_not_guessed(code):
    feature = decode_weight_feature(bytes([code << 3, 0, 0, 0]))
    assert isinstance(feature, WeightFeature)
    assert (feature.si_step_g, feature.imperial_step_g) == (None, None)


def test_a_short_feature_is_rejected():
    assert isinstance(decode_weight_feature(b"\x38\x00"), Rejected)


@given(st.binary(max_size=24))
def test_any_packet_gives_a_weight_or_a_reason(packet):
    result = decode_weight_measurement(packet)
    if isinstance(result, Measurement):
        assert 0.0 <= result.value <= 65534 * 5.0 or result.status is Status.ERROR
    else:
        assert result.why
    assert decode_weight_feature(packet) is not None


@given(st.integers(0, 0xFFFE), st.booleans())
def test_no_weight_loses_a_digit(count, imperial):
    packet = bytes([imperial]) + count.to_bytes(2, "little")
    assert decode_weight_measurement(packet).value == (
        float(f"{count * 45359237}e-7") if imperial else count * 5
    )

from __future__ import annotations

import math
import struct
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import GRAM, Status
from drivers.decoders.hid_descriptor import read_weighing_layout
from drivers.decoders.hid_weight import (
    COMMON_LAYOUT,
    Field,
    ReportLayout,
    decode_scale_report,
    scale_step_g,
)
from drivers.decoders.measurement import Measurement, Rejected


def one(sent: str, layout: ReportLayout = COMMON_LAYOUT) -> Measurement:
    measurement = decode_scale_report(bytes.fromhex(sent), layout)
    assert isinstance(measurement, Measurement), measurement
    return measurement


# USB-IF, HID Point of Sale Usage Tables 1.02, weighing devices: codes in the order of their usages. The first
# two are published byte for byte (20 g; 6452 * 10**-1 oz = 645.2 oz), there without a status.
@pytest.mark.parametrize(
    ("sent", "weight_g", "status"),
    [
        ("04 04 02 00 14 00", 20.0, Status.STABLE),
        ("04 04 0B FF 34 19", 18291.11232025, Status.STABLE),
        ("04 04 02 FF 4D 01", 33.3, Status.STABLE),
        ("04 05 02 FF 0C 00", -1.2, Status.UNKNOWN),
        ("04 03 02 FF 4D 01", 33.3, Status.MOVING),
        ("04 02 02 FF 00 00", 0.0, Status.STABLE),
    ],
)
def test_reports(sent, weight_g, status):
    assert one(sent) == Measurement(None, weight_g, GRAM, status)


@pytest.mark.parametrize(
    ("code", "status"), [(1, Status.ERROR), (6, Status.OVERLOAD), (7, Status.ERROR), (8, Status.ERROR)]
)
def test_a_scale_that_cannot_weigh_gives_no_value(code, status):
    # fault, over weight limit, requires calibration, requires re-zeroing; the unit may then be anything
    measurement = decode_scale_report(bytes([4, code, 0, 0, 0x34, 0x12]))
    assert math.isnan(measurement.value)
    assert measurement.status is status


# NIST Special Publication 811 (2008), B.8: grain 64.798 91 mg, pennyweight 1.555 173 84 g, troy ounce
# 31.103 476 8 g, ounce 28.349 523 125 g, pound 453.592 37 g, metric carat 0.2 g, all exact.
@pytest.mark.parametrize(
    ("code", "weight_g"),
    [
        (1, 0.001),
        (2, 1.0),
        (3, 1000.0),
        (4, 0.2),
        (6, 0.06479891),
        (7, 1.55517384),
        (8, 1e6),
        (10, 31.1034768),
        (11, 28.349523125),
        (12, 453.59237),
    ],
)
def test_one_of_each_unit(code, weight_g):
    report = bytes([4, 4, code, 0, 1, 0])
    assert decode_scale_report(report).value == weight_g
    assert scale_step_g(report) == weight_g


@pytest.mark.parametrize(("code", "name"), [(5, "tael"), (9, "ton"), (0, "code 0"), (13, "code 13")])
def test_a_unit_without_one_meaning_is_refused(code, name):
    rejected = decode_scale_report(bytes([4, 4, code, 0, 1, 0]))
    assert isinstance(rejected, Rejected)
    assert rejected.unknown_unit == name
    assert scale_step_g(bytes([4, 4, code, 0, 1, 0])) is None


@pytest.mark.parametrize("code", [0, 9, 0xFF])
def test_a_status_outside_the_standard_is_refused(code):
    # it could be the sign
    rejected = decode_scale_report(bytes([4, code, 2, 0, 1, 0]))
    assert isinstance(rejected, Rejected)
    assert rejected.why == f"status {code} is not in the standard"


def test_the_step_follows_the_scaling():
    assert [scale_step_g(bytes([4, 4, 2, power, 1, 0])) for power in (0, 0xFF, 0xFE, 1)] == [
        1.0,
        0.1,
        0.01,
        10.0,
    ]


def test_a_short_report_is_refused():
    rejected = decode_scale_report(bytes.fromhex("04 04 02 FF 4D"))
    assert isinstance(rejected, Rejected)
    assert rejected.why == "it has 5 bytes and a weighing report 6"
    assert scale_step_g(b"") is None


def test_zero_under_zero_is_plain_zero():
    assert math.copysign(1.0, one("04 05 02 FF 00 00").value) == 1.0


# A descriptor written by hand from HID 1.11, 6.2.2, and the usage table: another report first, then the
# weighing report in another order than the common one, with its units listed pounds first.
DESCRIPTOR = bytes.fromhex(
    "05 8D 09 20 A1 01"  # usage page weighing, usage scale device, collection application
    "85 01 09 30 A1 02 75 08 95 03 81 03 C0"  # report 1: three constant bytes
    "85 04 09 32 A1 02"  # report 4: scale data report
    "09 40 15 00 27 FF FF 00 00 75 10 95 01 81 02"  # weight, 16 bits
    "09 70 A1 02 19 71 29 78 15 01 25 08 75 04 95 01 81 00 C0"  # status class, four bits, array
    "75 04 95 01 81 03"  # four bits of padding
    "09 50 A1 02 09 5C 09 52 0A 5B 00 15 01 25 03 75 08 95 01 81 00 C0"  # units: lb, g, oz
    "09 41 15 81 25 7F 75 08 95 01 81 02"  # scaling, signed
    "C0 C0"
)


def test_a_descriptor_says_where_the_fields_are():
    layout = read_weighing_layout(DESCRIPTOR)
    assert isinstance(layout, ReportLayout)
    assert layout.report_id == 4
    assert layout.weight == Field(8, 16)
    assert layout.status == Field(24, 4)
    assert layout.unit == Field(32, 8)
    assert layout.scaling == Field(40, 8, signed=True)
    assert layout.units == {1: 0x5C, 2: 0x52, 3: 0x5B}
    assert one("04 4D 01 04 02 FF", layout).value == 33.3
    assert one("04 4D 01 F5 02 FF", layout).value == -33.3
    assert one("04 01 00 04 01 00", layout).value == 453.59237
    other = decode_scale_report(bytes.fromhex("01 4D 01 04 02 FF"), layout)
    assert isinstance(other, Rejected)
    assert other.why == "it is report 1, and the weight is in report 4"


# The common order, as most descriptors have it; without a report id the bytes are one fewer.
def common_descriptor(report_id: str) -> bytes:
    return bytes.fromhex(
        f"05 8D 09 20 A1 01 {report_id} 09 32 A1 02"
        "09 70 A1 02 75 08 95 01 15 01 25 08 19 71 29 78 81 00 C0"
        "09 50 A1 02 15 01 25 0C 1A 51 00 2A 5C 00 81 00 C0"
        "0B 41 00 8D 00 15 81 25 7F 81 02"
        "09 40 15 00 26 FF 7F 75 10 81 02 C0 C0"
    )


def test_the_common_order_is_read_from_a_descriptor_too():
    layout = read_weighing_layout(common_descriptor("85 04"))
    assert isinstance(layout, ReportLayout)
    for field in ("status", "unit", "weight", "scaling", "units", "statuses"):
        assert getattr(layout, field) == getattr(COMMON_LAYOUT, field)
    assert layout.report_id == 4


def test_reports_without_number_begin_with_the_first_field():
    layout = read_weighing_layout(common_descriptor(""))
    assert isinstance(layout, ReportLayout)
    assert (layout.report_id, layout.status, layout.length) == (None, Field(0, 8), 5)
    assert one("04 02 FF 4D 01", layout).value == 33.3


def test_push_and_pop_and_long_items():
    descriptor = common_descriptor("85 04")
    framed = bytes.fromhex("FE 02 F0 00 00 05 8D A4 75 20 95 05 05 01 B4") + descriptor[2:]
    assert read_weighing_layout(framed) == read_weighing_layout(descriptor)


def test_fields_that_are_not_selected_by_an_array_keep_the_order_of_the_usages():
    descriptor = bytes.fromhex(
        "05 8D 09 20 A1 01 75 08 95 03 15 00 09 70 09 50 09 41 81 02 75 10 95 01 09 40 81 02 C0"
    )
    layout = read_weighing_layout(descriptor)
    assert isinstance(layout, ReportLayout)
    assert one("04 02 FF 4D 01", layout).value == 33.3


@pytest.mark.parametrize(
    "descriptor",
    [
        b"",
        DESCRIPTOR[:40],
        bytes.fromhex("05 01 09 06 A1 01 05 07 19 E0 29 E7 15 00 25 01 75 01 95 08 81 02 C0"),  # a keyboard
        DESCRIPTOR.replace(bytes.fromhex("05 8D"), bytes.fromhex("05 8C")),
    ],
)
def test_a_descriptor_without_a_weighing_report_is_refused(descriptor):
    rejected = read_weighing_layout(descriptor)
    assert isinstance(rejected, Rejected)
    assert "descriptor" in rejected.why


def test_a_device_that_never_scales():
    descriptor = bytes.fromhex("05 8D 09 20 A1 01 75 08 95 02 09 70 09 50 81 02 75 10 95 01 09 40 81 02 C0")
    layout = read_weighing_layout(descriptor)
    assert isinstance(layout, ReportLayout)
    assert one("04 02 4D 01", layout).value == 333.0


UNITS_MG = {1: 1, 2: 1000, 3: 10**6, 4: 200, 6: Fraction("64.79891"), 12: Fraction("453592.37")}


@given(
    st.sampled_from(sorted(UNITS_MG)),
    st.integers(-128, 127),
    st.integers(0, 0xFFFF),
    st.sampled_from([3, 4, 5]),
)
def test_every_weight_is_the_nearest_float_to_its_decimals(unit, power, weight, status):
    exact_g = weight * Fraction(10) ** power * UNITS_MG[unit] / 1000
    measurement = decode_scale_report(struct.pack("<BBBbH", 4, status, unit, power, weight))
    assert measurement.value == float(-exact_g if status == 5 else exact_g)


@given(st.binary(max_size=64))
def test_any_report_gives_a_weight_or_a_reason(report):
    for layout in (COMMON_LAYOUT, read_weighing_layout(DESCRIPTOR)):
        result = decode_scale_report(report, layout)
        assert isinstance(result, Rejected) or math.isfinite(result.value) == result.status.has_value
        step = scale_step_g(report, layout)
        assert step is None or step > 0


@given(st.binary(max_size=200), st.integers(0, len(DESCRIPTOR)), st.integers(0, 4))
def test_any_descriptor_gives_a_layout_or_a_reason(garbage, at, lost):
    for descriptor in (garbage, DESCRIPTOR[:at] + garbage[:6] + DESCRIPTOR[at + lost :]):
        layout = read_weighing_layout(descriptor)
        if isinstance(layout, ReportLayout):
            assert decode_scale_report(bytes(70), layout) is not None
        else:
            assert layout.why


def test_a_descriptor_that_claims_billions_of_fields_is_read_at_once():
    claims = bytes.fromhex("97 FF FF FF FF 77 FF FF FF FF 1B 00 00 8D 00 2B FF FF FF FF 81 02")
    layout = read_weighing_layout(bytes.fromhex("05 8D 85 04") + claims * 50)
    result = decode_scale_report(bytes(70), layout) if isinstance(layout, ReportLayout) else layout
    assert isinstance(result, Rejected)

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import CELSIUS, GRAM
from drivers.decoders.bthome import BthomePacket, decode_bthome
from drivers.decoders.measurement import Measurement


def read(sent: str) -> BthomePacket:
    return decode_bthome(bytes.fromhex(sent))


def test_the_example_of_the_format_page():
    # https://bthome.io/format, the whole advertisement; 25.00 °C and 50.55 %
    advertisement = bytes.fromhex("020106 0B094449592D73656E736F72 0A16D2FC4002C40903BF13")
    start = advertisement.index(bytes.fromhex("16D2FC")) + 3
    packet = decode_bthome(advertisement[start:])
    assert packet == BthomePacket((Measurement(None, 25.0, CELSIUS),), (0.01,))


# Examples of https://bthome.io/format, each as bthome-ble 3.25.0 reads it too; 1 lb = 453.59237 g exactly.
@pytest.mark.parametrize(
    ("sent", "value", "unit", "step"),
    [
        ("40 06 5E 1F", 80300.0, GRAM, 10.0),
        ("40 07 3E 1D", float("33955.9248182"), GRAM, 4.5359237),
        ("40 02 CA 09", 25.06, CELSIUS, 0.01),
        ("40 45 11 01", 27.3, CELSIUS, 0.1),
        ("40 57 EA", -22.0, CELSIUS, 1.0),
        ("40 58 EA", -7.7, CELSIUS, 0.35),
    ],
)
def test_published_values(sent, value, unit, step):
    packet = read(sent)
    assert packet.measurements == (Measurement(None, value, unit),)
    assert packet.steps == (step,)
    assert packet.why == ""


def test_battery_and_packet_id():
    assert read("40 01 61") == BthomePacket(battery_percent=97)
    assert read("40 00 09") == BthomePacket(packet_id=9)
    packet = read("40 00 1B 01 64 02 C8 08 03 6C 1A")
    assert (packet.packet_id, packet.battery_percent) == (27, 100)
    assert packet.measurements == (Measurement(None, 22.48, CELSIUS),)


def test_a_battery_of_more_than_100_per_cent_is_none():
    assert read("40 01 65").battery_percent is None


# Examples of the format page for what evencup has no use for: each must be stepped over by its right length.
OTHERS = """
518756 12E204 56E803 0960 3D0960 3E2A2C0960 59EA 5AEAEA 5BEA0234EA 434E34 5D02EA 08CA06 400C00 414E00 424E3400
4D12138A14 0A138A14 4B138A14 4C41018A01 528756 03BF13 2E23 05138A14 14020C 2F23 0D120C 0E021C 0B021B00
5C02FBFFFF 04138A01 540C48656C6C6F20576F726C6421 3F020C 444E34 530C48656C6C6F20576F726C6421 133301 0C020C
4A020C 4E87562A01 478756 48DC87 5587562A01 49DC87 4632 4F87562A01 5E9F8C 5FA00F 1501 1601 1700 1801 1901 1A00
1B01 1C01 0F01 1D00 1E01 1F01 2001 2100 2201 2301 1100 2400 1001 2500 2601 2701 2801 2901 2A00 2B00 2C01 2D01
3A00 3A80 3C0000 3C0103 F00100 F100010204 F2000106
"""


@pytest.mark.parametrize("other", OTHERS.split())
def test_other_objects_are_stepped_over(other):
    packet = read(f"40 {other} 57 5D")
    assert packet == BthomePacket((Measurement(None, 93.0, CELSIUS),), (1.0,))
    cut = read(f"40 57 5D {other[:-2]}")
    assert cut.measurements == packet.measurements
    assert "cut off" in cut.why


def test_objects_younger_than_the_page_at_hand():
    # lengths as in bthome-ble 3.25.0; 3B is a command: control byte with the length of the arguments, command
    others = "6001 61E803 6200000000 6300000000 6402 6501 3B021001FF"
    assert read(f"40 {others} 57 5D").measurements == (Measurement(None, 93.0, CELSIUS),)


def test_a_time_stamp_is_the_device_clock():
    # the format page: 5D396164 is 1684093277 s, 2023-05-14 19:41:17 UTC
    (measurement,) = read("40 02 CA 09 50 5D 39 61 64").measurements
    assert measurement == Measurement(None, 25.06, CELSIUS, device_time_s=1684093277.0)


def test_several_values_keep_their_order():
    packet = read("40 02 C4 09 02 CA 09 06 5E 1F")
    assert [one.value for one in packet.measurements] == [25.0, 25.06, 80300.0]
    assert packet.steps == (0.01, 0.01, 10.0)


def test_an_unknown_object_ends_the_reading():
    packet = read("40 02 C4 09 EE 02 CA 09")
    assert [one.value for one in packet.measurements] == [25.0]
    assert packet.why == "object 0xEE is not in the table"


def test_an_encrypted_broadcast_is_reported_as_such():
    # https://bthome.io/format: bit 0 of the device byte; what follows is made up
    packet = read("41 A4 72 66 C9 5F 73 00 11 22 33 78 23 72 14")
    assert packet == BthomePacket(encrypted=True, why="it is encrypted")


@pytest.mark.parametrize(
    ("sent", "why"), [("", "empty"), ("20 02 CA 09", "version 1"), ("00", "version 0"), ("E1", "version 7")]
)
def test_what_is_no_broadcast_of_this_version(sent, why):
    packet = read(sent)
    assert why in packet.why
    assert packet.measurements == ()


def test_the_flag_of_irregular_devices_changes_nothing():
    assert read("44 02 CA 09").measurements == read("40 02 CA 09").measurements


def test_nothing_is_colder_than_absolute_zero():
    packet = read("40 45 00 80 57 5D")
    assert [one.value for one in packet.measurements] == [93.0]
    assert packet.why == "-3276.8 °C is below absolute zero"


@given(st.binary(max_size=40), st.booleans())
def test_any_broadcast_gives_values_or_a_reason(data, regular):
    packet = decode_bthome(b"\x40" + data if regular else data)
    assert len(packet.steps) == len(packet.measurements)
    for measurement in packet.measurements:
        assert math.isfinite(measurement.value)
        assert measurement.value >= (0 if measurement.unit == GRAM else -273.15)
    assert packet.battery_percent in {None, *range(101)}
    assert not (packet.encrypted and packet.measurements)


@given(st.integers(0, 0xFFFF), st.integers(-27315, 0x7FFF))
def test_no_value_loses_a_digit(mass, temperature):
    sent = mass.to_bytes(2, "little"), temperature.to_bytes(2, "little", signed=True)
    packet = decode_bthome(b"\x40\x02" + sent[1] + b"\x06" + sent[0] + b"\x07" + sent[0])
    assert [one.value for one in packet.measurements] == [
        float(f"{temperature}e-2"),
        mass * 10.0,
        float(f"{mass * 45359237}e-7"),
    ]

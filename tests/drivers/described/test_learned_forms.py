"""Forms of numbers, checks and streams that learned devices need, read by their decoder."""

from __future__ import annotations

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.measurement import Rejected
from drivers.decoders.packets import PacketDecoder
from drivers.decoders.registers import ORDERS, decode_registers
from drivers.described import DescriptionError, described_by

BLE = """
name = "radio"
kind = "ble"
[ble]
notify = ["2a9d"]
[[frame]]
{frame}
[[frame.field]]
holds = "weight"
offset = 1
unit = "g"
{field}
"""


def value_of(field: str, data: bytes, frame: str = "") -> float:
    decoder = PacketDecoder(described_by(BLE.format(field=field, frame=frame), "a test"))
    result = decoder.decode_packet(data)
    assert not isinstance(result, Rejected), result
    return result[0].value


def refused(field: str, data: bytes, frame: str = "") -> str:
    result = PacketDecoder(described_by(BLE.format(field=field, frame=frame), "a test")).decode_packet(data)
    assert isinstance(result, Rejected)
    return result.why


@given(digits=st.lists(st.integers(0, 9), min_size=4, max_size=4))
def test_one_digit_a_byte(digits):
    field = 'width = 4\nencoding = "digits"\nscale = 0.1\norder = "{}"'
    number = int("".join(map(str, digits))) / 10
    assert value_of(field.format("big"), b"\0" + bytes(digits)) == number
    assert value_of(field.format("little"), b"\0" + bytes(digits[::-1])) == number


def test_a_byte_that_is_no_digit_refuses_the_frame():
    assert "are not digits" in refused('width = 2\nencoding = "digits"\norder = "big"', b"\0\1\x0a")


def test_nibbles_with_the_low_one_first():
    field = 'width = 2\nencoding = "bcd"\norder = "big"\nnibbles = "low-first"'
    assert value_of(field, bytes([0, 0x21, 0x43])) == 1234


@given(number=st.integers(-32768, 32767))
def test_digits_of_sixteen_as_text(number):
    text = b"\0" + b"%04x" % (number % 65536)
    assert value_of('width = 4\nencoding = "hex"\nsigned = "twos-complement"', text) == number


def test_text_that_is_no_number_refuses_the_frame():
    assert "digits 0 to F" in refused('width = 4\nencoding = "hex"', b"\0 0G1")


@given(value=st.floats(-1000, 1000, width=16))
def test_floats_of_two_bytes(value):
    data = b"\0" + struct.pack("<e", value)
    assert value_of('width = 2\nencoding = "float"\norder = "little"', data) == value


@pytest.mark.parametrize(("places", "value"), [(0, 1234.0), (1, 123.4), (3, 1.234)])
def test_a_byte_that_counts_the_decimals(places, value):
    field = 'width = 2\norder = "big"\ndecimals = { offset = 3 }'
    assert math.isclose(value_of(field, bytes([0, 0x04, 0xD2, places])), value)


def test_too_many_decimals_refuse_the_frame():
    assert "too many" in refused("width = 1\ndecimals = { offset = 2 }", bytes([0, 5, 77]))


@pytest.mark.parametrize(
    ("check", "byte"),
    [
        ('kind = "sum8"\nxorout = 0xFF', ~(1 + 2 + 3) & 0xFF),
        ('kind = "sum8"\ninit = 0x55', 1 + 2 + 3 + 0x55),
        ('kind = "xor8"\ninit = 0xA5', 1 ^ 2 ^ 3 ^ 0xA5),
        ('kind = "lrc"\ninit = 0x10', -(1 + 2 + 3 + 0x10) & 0xFF),
    ],
)
def test_sums_that_begin_with_something_and_end_with_something(check, byte):
    frame = f"length = 4\n[frame.checksum]\nat = 3\n{check}"
    assert value_of("width = 1", bytes([1, 2, 3, byte]), frame) == 2
    assert "checksum" in refused("width = 1", bytes([1, 2, 3, byte ^ 1]), frame)


def test_a_check_of_several_kinds_is_right_by_any_of_them():
    frame = 'length = 4\n[frame.checksum]\nat = 3\nkind = ["sum8", "xor8"]'
    assert value_of("width = 1", bytes([1, 2, 3, 1 + 2 + 3]), frame) == 2
    assert value_of("width = 1", bytes([1, 2, 3, 1 ^ 2 ^ 3]), frame) == 2
    assert "checksum" in refused("width = 1", bytes([1, 2, 3, 7]), frame)


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ('nibbles = "low-first"', "nibbles"),
        ('width = 3\nencoding = "float"\norder = "big"', "width"),
        ('width = 2\nencoding = "hex"\nmask = 3', "mask"),
        ("decimals = { offset = 9000 }", "offset"),
        ('width = 3\norder = "cdab"', "order"),
        ('width = 4\nencoding = "digits"\norder = "badc"', "order"),
    ],
)
def test_mistakes_name_the_field(field, said):
    with pytest.raises(DescriptionError) as told:
        described_by(BLE.format(field=field, frame=""), "a test")
    assert any(said in mistake.field for mistake in told.value.mistakes)


def test_lines_over_bluetooth_want_a_pattern():
    text = 'name = "a"\nkind = "ble"\n[ble]\nnotify = "2a9d"\n[lines]\n{}\n'
    assert described_by(text.format('pattern = "weight"'), "a test").lines is not None
    with pytest.raises(DescriptionError, match="pattern"):
        described_by(text.format('scpi = "weight"'), "a test")


@given(number=st.integers(-(2**31), 2**31 - 1))
@pytest.mark.parametrize(("order", "places"), [("cdab", (2, 3, 0, 1)), ("badc", (1, 0, 3, 2))])
def test_four_bytes_in_words_as_field_busses_have_them(number, order, places):
    data = bytes(number.to_bytes(4, "big", signed=True)[at] for at in places)
    field = f'width = 4\norder = "{order}"\nsigned = "twos-complement"'
    assert value_of(field, b"\0" + data) == number
    assert decode_registers(struct.unpack(">HH", data), "int32", *ORDERS[order]) == number


@given(value=st.floats(-1000, 1000, width=32))
def test_a_float_of_four_bytes_may_stand_in_words_of_their_own_order(value):
    high, low = struct.pack(">f", value)[:2], struct.pack(">f", value)[2:]
    field = 'width = 4\nencoding = "float"\norder = "{}"'
    assert value_of(field.format("cdab"), b"\0" + low + high) == value
    assert value_of(field.format("badc"), b"\0" + high[::-1] + low[::-1]) == value


def test_digits_and_masks_are_of_the_number_not_of_the_order_in_which_its_words_stand():
    data = bytes([0, 0x56, 0x78, 0x12, 0x34])
    assert value_of('width = 4\nencoding = "bcd"\norder = "cdab"', data) == 12345678
    assert value_of('width = 4\norder = "cdab"\nmask = 0xFF0000', data) == 0x34

from __future__ import annotations

import math
import struct
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin

from drivers.decoders.registers import (
    ORDERS,
    TYPES,
    NoValue,
    Quantity,
    StatusBits,
    bits_of,
    decode_registers,
    words_of,
)
from drivers.reading import Status

STRUCT = [kind for kind in TYPES if not kind.startswith("bcd")]
WORD = st.integers(0, 0xFFFF)


def words(kind: str):
    return st.lists(WORD, min_size=words_of(kind), max_size=words_of(kind))


def same(a: float, b: float) -> bool:
    return a == b or (math.isnan(a) and math.isnan(b))


def test_the_picture_at_the_head_of_the_module():
    assert decode_registers([0x0001, 0x86A0], "int32") == 100_000
    assert decode_registers([0x86A0, 0x0001], "int32", "little") == 100_000
    assert Quantity("int32", Fraction("0.01")).value([0x0001, 0x86A0]) == 1000


# IEEE 754-2019, 3.4: 1.0 is 3F800000, -2.0 is C0000000; the four orders by their usual letters.
@pytest.mark.parametrize(
    ("order", "sent"),
    [
        ("abcd", [0x3F80, 0x1234]),
        ("cdab", [0x1234, 0x3F80]),
        ("badc", [0x803F, 0x3412]),
        ("dcba", [0x3412, 0x803F]),
    ],
)
def test_each_order_of_words_and_bytes(order, sent):
    (expected,) = struct.unpack(">f", bytes.fromhex("3f801234"))
    assert decode_registers(sent, "float32", *ORDERS[order]) == expected


def test_known_floats():
    assert decode_registers([0x3F80, 0], "float32") == 1.0
    assert decode_registers([0xC000, 0], "float32") == -2.0
    assert decode_registers([0x3FF0, 0, 0, 0], "float64") == 1.0


@given(st.data())
def test_every_type_is_read_as_pymodbus_reads_it(data):
    kind = data.draw(st.sampled_from(STRUCT))
    order = data.draw(st.sampled_from(["big", "little"]))
    sent = data.draw(words(kind))
    theirs = ModbusClientMixin.convert_from_registers(
        sent, getattr(ModbusClientMixin.DATATYPE, kind.upper()), order
    )
    assert same(decode_registers(sent, kind, order), float(theirs))


@given(st.data())
def test_what_pymodbus_writes_is_read_back(data):
    kind = data.draw(st.sampled_from(["int16", "int32", "int64"]))
    order = data.draw(st.sampled_from(["big", "little"]))
    bits = 16 * words_of(kind)
    value = data.draw(st.integers(-(2 ** (bits - 1)), 2 ** (bits - 1) - 1))
    sent = ModbusClientMixin.convert_to_registers(
        value, getattr(ModbusClientMixin.DATATYPE, kind.upper()), order
    )
    assert decode_registers(sent, kind, order) == float(value)


@given(st.floats(width=32), st.sampled_from(sorted(ORDERS)))
def test_a_float_survives_every_order(value, order):
    """Held against struct: bytes swapped within words is '<' applied to each, words swapped is reversal."""
    word_order, byte_order = ORDERS[order]
    sent = list(struct.unpack(">HH" if byte_order == "big" else "<HH", struct.pack(">f", value)))
    sent = sent if word_order == "big" else sent[::-1]
    assert same(decode_registers(sent, "float32", word_order, byte_order), value)


@given(st.integers(0, 99_999_999))
def test_decimal_codes_hold_one_digit_in_four_bits(number):
    sent = [int(f"{number:08d}"[:4], 16), int(f"{number:08d}"[4:], 16)]
    assert decode_registers(sent, "bcd32") == number
    assert decode_registers(sent[1:], "bcd16") == number % 10_000


def test_a_decimal_digit_above_nine_is_no_number():
    assert math.isnan(decode_registers([0x12A4], "bcd16"))
    assert Quantity("bcd16").value([0x12A4]) is None


@pytest.mark.parametrize(("steps", "grams"), [(57, 0.57), (29, 0.29), (1230, 12.3), (-7, -0.07)])
def test_steps_become_the_number_on_the_display(steps, grams):
    (value,) = [Quantity("int32", Fraction("0.01")).value(struct.unpack(">HH", struct.pack(">i", steps)))]
    assert float(value) == grams


def test_scale_goes_before_offset():
    assert Quantity("int16", Fraction("0.1"), Fraction(-40)).value([535]) == Fraction("13.5")


def test_what_is_not_a_number_is_no_value():
    float32 = Quantity("float32")
    assert float32.value([0x7FC0, 0]) is None
    assert float32.value([0x7F80, 0]) is None
    # SCPI-1999, volume 1: 9.91E37 is "not a number", -9.9E37 minus infinity.
    for number in (9.91e37, -9.9e37):
        assert float32.value(struct.unpack(">HH", struct.pack(">f", number))) is None


def test_codes_for_no_value():
    pattern = Quantity("int16", Fraction(1), no_value=(NoValue(0x8000, is_pattern=True),))
    number = Quantity("int16", Fraction("0.1"), no_value=(NoValue(-9999), NoValue(32767)))
    assert pattern.value([0x8000]) is None
    assert pattern.value([0x8001]) == -32767
    assert number.value([0x10000 - 9999]) is None
    assert number.value([0x7FFF]) is None
    assert number.value([9999]) == Fraction("999.9")


def test_a_pattern_is_that_of_the_number_not_of_the_wire():
    quantity = Quantity("int32", word_order="little", no_value=(NoValue(0x80000000, is_pattern=True),))
    assert quantity.value([0x0000, 0x8000]) is None
    assert quantity.value([0x8000, 0x0000]) == 0x8000


@given(st.data())
def test_no_registers_whatever_raise(data):
    kind = data.draw(st.sampled_from(TYPES))
    word_order, byte_order = ORDERS[data.draw(st.sampled_from(sorted(ORDERS)))]
    sent = data.draw(words(kind))
    value = Quantity(kind, Fraction("0.01"), Fraction(3), word_order, byte_order).value(sent)
    raw = decode_registers(sent, kind, word_order, byte_order)
    if math.isfinite(raw) and abs(raw) < 9e37:
        assert value is not None
        assert float(value) == pytest.approx(raw * 0.01 + 3, rel=1e-12, abs=1e-9)
    assert isinstance(raw, float)


@pytest.mark.parametrize(
    ("bits", "sent", "status"),
    [
        (StatusBits(stable=0), [True], Status.STABLE),
        (StatusBits(stable=0), [False], Status.MOVING),
        (StatusBits(moving=1), [False, True], Status.MOVING),
        (StatusBits(moving=1), [True, False], Status.STABLE),
        (StatusBits(overload=0), [False], Status.UNKNOWN),
        (StatusBits(stable=0, moving=1), [False, False], Status.UNKNOWN),
        (StatusBits(stable=0, overload=1, error=2), [True, True, False], Status.OVERLOAD),
        (StatusBits(stable=0, overload=1, error=2), [True, True, True], Status.ERROR),
        (StatusBits(underload=0, moving=1), [True, True], Status.UNDERLOAD),
    ],
)
def test_status_bits(bits, sent, status):
    assert bits.status(sent) is status


@given(st.lists(WORD, min_size=1, max_size=4))
def test_bits_are_counted_from_the_lowest(sent):
    bits = bits_of(sent)
    assert len(bits) == 16 * len(sent)
    assert sum(bit << number for number, bit in enumerate(bits)) == sum(
        word << 16 * number for number, word in enumerate(sent)
    )

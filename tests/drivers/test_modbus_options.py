"""What an address of a Modbus unit may say."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import AddressError, ChannelNames, modbus_options
from drivers.address import parse_address
from drivers.decoders.registers import TYPES, NoValue, StatusBits
from drivers.modbus_channels import CHANNEL_DETAILS, CHANNEL_OPTIONS
from drivers.modbus_options import OPTIONS
from drivers.transports.modbus_settings import Place

PAGE = Path(__file__).parents[2] / "docs" / "modbus-and-hid.md"


def understood(text: str, **names: str):
    return modbus_options.modbus_options(parse_address(f"modbus:{text}"), ChannelNames(**names))


def only_channel(text: str):
    (channel,) = understood(text).channels
    return channel


def test_a_serial_line():
    options = understood(
        "/dev/ttyUSB1?unit=7&baud=19200&parity=even&stopbits=2&bytesize=7&timeout_s=0.5&every_ms=50"
        "&silent_s=3&weight=holding:0:int32:0.01"
    )
    link = options.link
    assert (link.url, link.host, link.rtu, link.unit, link.timeout_s) == ("/dev/ttyUSB1", "", True, 7, 0.5)
    assert (link.serial.baud, link.serial.parity, link.serial.stopbits, link.serial.bytesize) == (
        19200,
        "E",
        2,
        7,
    )
    assert (options.every_s, options.silent_s, options.tare) == (0.05, 3, None)


@pytest.mark.parametrize(
    ("target", "host", "port", "rtu"),
    [
        ("tcp://scale.local", "scale.local", 502, False),
        ("tcp://192.168.1.20:5020", "192.168.1.20", 5020, False),
        ("tcp://[fe80::1]:502", "fe80::1", 502, False),
        ("rtu+tcp://192.168.1.20:4000", "192.168.1.20", 4000, True),
    ],
)
def test_a_network(target, host, port, rtu):
    link = understood(f"{target}?weight=holding:0:int16").link
    assert (link.host, link.port, link.rtu) == (host, port, rtu)


def test_channels_get_their_names():
    options = understood(
        "tcp://h?weight=holding:0:int16&weight2=holding:1:int16&weight3=cup@input:2:uint16"
        "&temperature=input:3:int16",
        weight="server",
        temperature="kettle",
    )
    assert [(c.channel, str(c.place), c.unit) for c in options.channels] == [
        ("server", "holding register 0", "g"),
        ("server2", "holding register 1", "g"),
        ("cup", "input register 2", "g"),
        ("kettle", "input register 3", "°C"),
    ]


def test_type_scale_order_and_offset():
    channel = only_channel("tcp://h?temperature=input:0x10:int32:1e-2:little&temperature_offset=-40")
    quantity = channel.quantity
    assert channel.place == Place("input", 16)
    assert (quantity.kind, quantity.scale, quantity.offset, quantity.word_order) == (
        "int32",
        Fraction(1, 100),
        -40,
        "little",
    )


# The usual numbering of manuals: 1-based, the first digit tells the kind (common practice; the protocol
# itself counts from 0, MODBUS Application Protocol V1.1b3, 4.4).
@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("40001:int16", Place("holding", 0)),
        ("40108:int16", Place("holding", 107)),
        ("30011:int16", Place("input", 10)),
        ("400001:int16", Place("holding", 0)),
        ("465536:int16", Place("holding", 65535)),
        ("holding:40001:int16", Place("holding", 40001)),
    ],
)
def test_manuals_numbers(text, place):
    assert only_channel(f"tcp://h?weight={text}").place == place


def test_steps_in_grams_and_degrees():
    steps = {
        text: only_channel(f"tcp://h?{text}").step
        for text in (
            "weight=holding:0:int32:0.01",
            "units=kg&weight=holding:0:int32:0.0001",
            "units=F&temperature=input:0:int16:0.9",
            "weight=holding:0:float32",
        )
    }
    assert list(steps.values()) == [0.01, 0.1, 0.5, None]


def test_codes_and_status():
    channel = only_channel(
        "tcp://h?weight=holding:0:int16&weight_none=0x7FFF,-32768&weight_status=discrete:4:stable=0,overload=12"
    )
    assert channel.quantity.no_value == (NoValue(0x7FFF, True), NoValue(-32768))
    assert (channel.status_at, channel.status_bits) == (
        Place("discrete", 4),
        StatusBits(stable=0, overload=12),
    )


@pytest.mark.parametrize(
    ("tare", "place", "value"),
    [
        ("coil:5", Place("coil", 5), 1),
        ("00006", Place("coil", 5), 1),
        ("holding:8:3", Place("holding", 8), 3),
    ],
)
def test_tare(tare, place, value):
    write = understood(f"tcp://h?weight=holding:0:int16&tare={tare}").tare
    assert (write.place, write.value) == (place, value)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("tcp://h", "neither weight= nor temperature="),
        ("tcp://h?weight=holding:0:int16&speed=1", "unknown option 'speed'"),
        ("tcp://h?weight=holding:0:int16&weight1=holding:0:int16", "unknown option 'weight1'"),
        ("tcp://h?weight=holding:0:int17", "'int17' is not a type"),
        ("tcp://h?weight=holding:0", "'' is not a type"),
        ("tcp://h?weight=holding", "'' is not a register"),
        ("tcp://h?weight=holding:65536:int16", "'65536' is not a register"),
        ("tcp://h?weight=holding:65535:int32", "2 registers from 65535 end beyond"),
        ("tcp://h?weight=40000:int16", "40000 is none"),
        ("tcp://h?weight=465537:int16", "465537 is none"),
        ("tcp://h?weight=coil:0:int16", "a coil holds one bit"),
        ("tcp://h?weight=register:0:int16", "'register' is not a kind"),
        ("tcp://h?weight=holding:0:int16:0", "a scale of 0"),
        ("tcp://h?weight=holding:0:int16:fast", "'fast' is not a number"),
        ("tcp://h?weight=holding:0:int16:nan", "'nan' is not a number"),
        ("tcp://h?weight=holding:0:int16:1e99", "'1e99' is not a number"),
        ("tcp://h?weight=holding:0:int16:1:middle", "'middle' is not an order"),
        ("tcp://h?weight=holding:0:int16:1:big:1", "nothing may follow"),
        ("tcp://h?weight=my cup@holding:0:int16", "'my cup' is not the name"),
        ("tcp://h?weight=holding:0:int16&weight2=scale@holding:1:int16", "two channels are called 'scale'"),
        ("tcp://h?weight=holding:0:int16&weight2_offset=1", "weight2_offset is given and weight2 is not"),
        ("tcp://h?weight=holding:0:int16&weight_offset=x", "weight_offset=x: 'x' is not a number"),
        ("tcp://h?weight=holding:0:int16&weight_none=0x12345", "too long for int16"),
        ("tcp://h?weight=holding:0:int16&weight_none=x", "'x' is not a number"),
        ("tcp://h?weight=holding:0:int16&weight_status=input:1", "cannot be read"),
        ("tcp://h?weight=holding:0:int16&weight_status=input:1:calm=0", "cannot be read"),
        ("tcp://h?weight=holding:0:int16&weight_status=input:1:stable=64", "cannot be read"),
        ("tcp://h?weight=holding:0:int16&units=stone", "units=stone"),
        ("tcp://h?weight=holding:0:int16&units=kg,g", "units=kg,g"),
        ("tcp://h?weight=holding:0:int16&tare=input:1", "tare=input:1 cannot be written"),
        ("tcp://h?weight=holding:0:int16&tare=holding:1", "cannot be written"),
        ("tcp://h?weight=holding:0:int16&tare=coil:1:2", "cannot be written"),
        ("tcp://h?weight=holding:0:int16&unit=256", "unit=256"),
        ("tcp://h?weight=holding:0:int16&unit=1.5", "unit=1.5 is not a whole number"),
        ("/dev/ttyUSB0?weight=holding:0:int16&unit=0", "unit=0"),
        ("/dev/ttyUSB0?weight=holding:0:int16&parity=mark", "parity=mark"),
        ("tcp://?weight=holding:0:int16", "host or port"),
        ("tcp://h:many?weight=holding:0:int16", "host or port"),
        ("tcp://h/path?weight=holding:0:int16", "host or port"),
        ("rtu+tcp://h?weight=holding:0:int16", "host or port"),
        ("socket://h:1?weight=holding:0:int16", "'socket://' is not known here"),
        ("tcp://h?weight=holding:0:int16&every_ms=1", "every_ms=1"),
    ],
)
def test_what_makes_no_sense_is_refused_with_its_place(text, what):
    with pytest.raises(AddressError, match="modbus:") as caught:
        understood(text)
    assert what in caught.value.what
    assert caught.value.remedy


@given(st.text(st.sampled_from("0123456789:@.,=-abehinoldgx"), max_size=24))
def test_no_text_whatever_is_more_than_refused(text):
    for option in ("weight", "weight_none", "weight_status", "tare", "units"):
        first = "" if option == "weight" else "weight=holding:0:int16&"
        try:
            understood(f"tcp://h?{first}{option}={text}")
        except AddressError as error:
            assert error.remedy


def test_every_option_is_explained():
    page = PAGE.read_text(encoding="utf-8")
    assert all(f"| `{option}` |" in page for option in (*OPTIONS, *CHANNEL_OPTIONS))
    assert all(f"`weight_{detail}=" in page for detail in CHANNEL_DETAILS)
    assert all(f"`{kind}`" in page for kind in TYPES)

"""Frames and packets by a description, against an encoder that shares no code with the decoder."""

from __future__ import annotations

import math
import random
import struct
from functools import partial
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import CELSIUS, GRAM, Status
from drivers.decoders.measurement import Rejected
from drivers.decoders.packets import PacketDecoder
from drivers.described import Description, read_description
from tests.drivers.decoders import pieces
from tests.drivers.decoders.written_frames import cyclic, layouts, layouts_with_steps
from tests.peers import framed_scale

assert_pieces_agree = partial(pieces.assert_pieces_agree, longest_kept=1023)


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("descriptions")


def described(text: str, folder: Path) -> Description:
    path = folder / "device.toml"
    path.write_text(text, encoding="utf-8")
    return read_description(path)


def packet_decoder(fields: str, folder: Path, frame: str = "") -> PacketDecoder:
    """Make the decoder of Bluetooth packets with these fields."""
    text = 'name = "made up"\nkind = "ble"\nble.notify = "2a9d"\n[[frame]]\n'
    return PacketDecoder(described(f"{text}{frame}\n{fields}", folder))


def field(**keys: object) -> str:
    lines = [f"{key.rstrip('_')} = {value}" for key, value in keys.items()]
    return "\n".join(["[[frame.field]]", *lines])


def one_value(decoder: PacketDecoder, packet: str) -> tuple[float, Status]:
    measurements = decoder.decode_packet(bytes.fromhex(packet))
    assert not isinstance(measurements, Rejected), measurements
    (measurement,) = measurements
    return measurement.value, measurement.status


# Against an independent encoder


@given(layouts_with_steps(count=3))
def test_what_a_made_up_device_sends_is_read(folder, made_up):
    layout, sent = made_up
    decoder = PacketDecoder(described(layout.describe(), folder))
    decoded = decoder.decode(b"".join(layout.encode(steps) for steps in sent))
    expected = [
        number.value(step) for steps in sent for number, step in zip(layout.numbers, steps, strict=True)
    ]
    assert (decoded.lines, decoded.rejected) == (3, 0), decoded.last_rejected
    # Scaling is exact: what comes out is the float next to the true value.
    assert [one.value for one in decoded.measurements] == expected
    units = [GRAM if number.holds == "weight" else CELSIUS for number in layout.numbers]
    assert [one.unit for one in decoded.measurements[: len(units)]] == units


@given(layouts_with_steps())
def test_a_packet_is_read_like_a_frame(folder, made_up):
    layout, (steps,) = made_up
    decoder = PacketDecoder(described(layout.describe("ble"), folder))
    measurements = decoder.decode_packet(layout.encode(steps))
    assert not isinstance(measurements, Rejected), measurements
    values = [one.value for one in measurements]
    assert values == [number.value(step) for number, step in zip(layout.numbers, steps, strict=True)]


@given(layouts_with_steps(checked=True), st.data())
def test_a_packet_with_any_bit_flipped_gives_nothing(folder, made_up, data):
    layout, (steps,) = made_up
    packet = bytearray(layout.encode(steps))
    covered = len(packet) - layout.check_width - len(layout.terminator)
    packet[data.draw(st.integers(0, covered - 1))] ^= 1 << data.draw(st.integers(0, 7))
    decoder = PacketDecoder(described(layout.describe("ble"), folder))
    # Every check here sees a single flipped bit: sums and exclusive or change, a polynomial with a constant
    # term divides no single bit.
    assert isinstance(decoder.decode_packet(bytes(packet)), Rejected)


# A stream that is not in order


FRAME = framed_scale.frame


@pytest.fixture(scope="module")
def scale(folder) -> PacketDecoder:
    return PacketDecoder(described(framed_scale.DESCRIPTION, folder))


def weights(decoder: PacketDecoder, data: bytes) -> list[float]:
    return [one.value for one in decoder.decode(data).measurements if one.unit == GRAM]


def test_frames_with_everything_in_them(scale):
    decoded = scale.decode(FRAME(-12.34, 93.4) + FRAME(1.5, -0.5, at_rest=False) + FRAME(9, over=True)[:5])
    assert [(one.value, one.unit, one.status) for one in decoded.measurements] == [
        (-12.34, GRAM, Status.STABLE),
        (93.4, CELSIUS, Status.UNKNOWN),
        (1.5, GRAM, Status.MOVING),
        (-0.5, CELSIUS, Status.UNKNOWN),
    ]
    assert (decoded.used, decoded.lines, decoded.rejected) == (20, 2, 0)


def test_an_overloaded_scale_has_a_temperature_and_no_weight(scale):
    weight, temperature = scale.decode(FRAME(9, 21.0, over=True)).measurements
    assert math.isnan(weight.value)
    assert weight.status is Status.OVERLOAD
    assert temperature.value == 21.0


@pytest.mark.parametrize(
    ("damage", "rejected"),
    [
        (lambda frame: frame[:4] + b"\x99" + frame[5:], 1),  # changed
        (lambda frame: frame[:6], 1),  # cut short
        (lambda frame: frame[3:], 1),  # without its head
        (lambda frame: b"\x00" + frame[1:], 1),  # with another head
        (lambda frame: frame[:1] + b"\xff" + frame[2:], 1),  # with an impossible length
        (lambda frame: frame[:1] + b"\x10" + frame[2:], 1),  # with a length that reaches into the next
        (lambda frame: frame[:1] + b"\x02" + frame[2:], 1),  # with one that ends before its fields
        (lambda frame: b"noise" + frame, 1),
        (lambda frame: b"", 0),
        (lambda frame: frame[:4] + frame, 1),
    ],
)
def test_damage_costs_no_other_frame_and_is_counted_once(scale, damage, rejected):
    damaged = damage(FRAME(2.0))
    whole = [2.0] if FRAME(2.0) in damaged else []
    decoded = scale.decode(FRAME(1.0) + damaged + FRAME(3.0) + FRAME(4.0))
    assert [one.value for one in decoded.measurements if one.unit == GRAM] == [1.0, *whole, 3.0, 4.0]
    assert decoded.rejected == rejected
    assert_pieces_agree(scale, FRAME(1.0) + damaged + FRAME(3.0), list(range(200)))


def test_damaged_frames_in_a_row_count_each(scale):
    bad = FRAME(2.0)[:-1] + b"\x00"
    decoded = scale.decode(bad * 5 + FRAME(3.0))
    assert (decoded.lines, decoded.rejected) == (1, 5)
    assert decoded.last_rejected.text == bad.hex(" ")
    assert decoded.last_rejected.why == "its checksum is wrong"


@settings(max_examples=60)
@given(st.data())
def test_random_damage_gives_no_false_weight_and_loses_only_what_it_hits(scale, data):
    chance = random.Random(data.draw(st.integers(0, 2**32)))
    frames = [FRAME(number / 100) for number in range(30)]
    hit = {chance.randrange(30) for _ in range(data.draw(st.integers(0, 6)))}
    stream = b""
    for number, frame in enumerate(frames):
        if number not in hit:
            stream += frame
        elif chance.random() < 0.5:  # a burst of changed bytes, at most two: a CRC-16 sees each of them
            at = chance.randrange(len(frame) - 1)
            stream += frame[:at] + bytes(byte ^ chance.randrange(1, 256) for byte in frame[at : at + 2])
            stream += frame[at + 2 :]
        else:
            stream += frame[: chance.randrange(len(frame))]
    assert weights(scale, stream + FRAME(99.0)) == [
        number / 100 for number in range(30) if number not in hit
    ] + [99.0]


NOISE = st.one_of(
    st.binary(max_size=40),
    st.just(FRAME(1.0)),
    st.just(FRAME(-2.5)[:7]),
    st.just(FRAME(3.0)[:5] + b"\x00" + FRAME(3.0)[6:]),
    st.just(b"\xa5"),
    st.just(b"\xa5\x10"),
    st.just(b"\x00" * 300),
)


@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 3000), max_size=8))
def test_any_bytes_in_any_pieces_give_the_same(scale, data, cuts):
    assert_pieces_agree(scale, data, cuts)


@given(layouts(), st.data())
def test_any_device_takes_any_bytes_in_any_pieces(folder, layout, data):
    decoder = PacketDecoder(described(layout.describe(), folder))
    steps = st.tuples(*(st.integers(*number.limits) for number in layout.numbers))
    frames = steps.map(lambda each: layout.encode(list(each)))
    # Whether a frame without a check has lost bytes shows by what has come behind it, as it was cut.
    is_plain = not layout.check and layout.end == "length" and not layout.terminator
    cut_short = [] if is_plain else [frames.map(lambda frame: frame[:-2]), st.just(bytes(layout.header))]
    part = st.one_of(st.binary(max_size=40), frames, *cut_short)
    stream = data.draw(st.lists(part, max_size=6).map(b"".join))
    assert_pieces_agree(decoder, stream, data.draw(st.lists(st.integers(0, 300), max_size=6)))


@given(layouts(), st.binary(max_size=40))
def test_any_bytes_are_a_packet_or_rejected(folder, layout, data):
    decoder = PacketDecoder(described(layout.describe("ble"), folder))
    for packet in (data, bytes(layout.header) + data):
        result = decoder.decode_packet(packet)
        assert isinstance(result, Rejected) or len(result) == len(layout.numbers)
        decoder.battery_percent(packet)


@given(layouts_with_steps(count=2, wide_check=True), st.binary(max_size=120))
def test_after_garbage_the_last_frame_is_read(folder, made_up, garbage):
    layout, sent = made_up
    decoder = PacketDecoder(described(layout.describe(), folder))
    first, second = (layout.encode(steps) for steps in sent)
    if any(b"\r\n" in frame[:-2] for frame in (first, second)) and layout.end == "terminator":
        return
    decoded = decoder.decode(garbage + first + second)
    # A candidate in the garbage may still be waiting for its end, at most one longest frame long.
    if decoded.used == len(garbage + first + second):
        assert decoded.lines >= 2


def test_a_minute_of_noise_is_not_kept(scale):
    noise = random.Random(7).randbytes(60_000)
    kept = b""
    for at in range(0, len(noise), 500):
        kept += noise[at : at + 500]
        kept = kept[scale.decode(kept).used :]
        assert len(kept) < 1024
    assert weights(scale, kept + FRAME(1.0) + FRAME(2.0))[-2:] == [1.0, 2.0]


def test_a_damaged_frame_and_a_long_silence_in_one_byte_pieces(scale):
    stream = (
        FRAME(2.0)[:-1] + b"\x00" + b"\x00" * 40 + FRAME(3.0) + FRAME(4.0)[:-1] + b"\x00" * 400 + FRAME(5.0)
    )
    assert_pieces_agree(scale, stream, list(range(len(stream))))
    decoded = scale.decode(stream)
    assert (decoded.lines, decoded.rejected) == (2, 2)
    assert decoded.last_rejected.why == "no frame begins there"


# Frames without a header, several kinds of frames


def test_a_frame_without_header_is_found_by_its_end(folder):
    text = 'name = "x"\nkind = "serial-frames"\n[[frame]]\nlength = 8\nterminator = "\\r\\n"\n'
    text += field(holds='"weight"', offset=0, width=6, encoding='"ascii"', scale=0.1, unit='"g"')
    decoder = PacketDecoder(described(text, folder))
    decoded = decoder.decode(b"34\r\n +1234\r\n  -56 \r\n" + b"   1.5\r\n    99\r")
    assert [one.value for one in decoded.measurements] == [123.4, -5.6, 0.15]
    assert decoded.rejected == 1


@pytest.fixture(scope="module")
def unmarked(folder) -> PacketDecoder:
    """Give the decoder of frames that nothing but a check of 16 bits tells: a weight, and a counter."""
    text = 'name = "x"\nkind = "serial-frames"\n[[frame]]\nlength = 5\n'
    text += '[frame.checksum]\nkind = "crc16"\nat = 3\norder = "big"\npolynomial = 0x1021\n'
    text += "init = 0xFFFF\n" + field(
        holds='"weight"', offset=0, width=2, order='"big"', scale=0.1, unit='"g"'
    )
    return PacketDecoder(described(text, folder))


def of_weight(tenths: int, counter: int) -> bytes:
    data = struct.pack(">HB", tenths, counter)
    return data + cyclic([*data], 16, 0x1021, 0xFFFF, refin=False, refout=False, xorout=0).to_bytes(2)


def test_a_frame_of_which_nothing_stays_is_found_by_its_check(unmarked):
    first, damaged, lost, second = (of_weight(1234, at) for at in range(4))
    sent = first[3:] + first + b"\x05" + damaged[1:] + first + lost[:3] + second
    decoded = unmarked.decode(sent + second[:2])
    assert [one.value for one in decoded.measurements] == [123.4] * 3
    assert (decoded.lines, decoded.rejected) == (3, 3)
    assert sent[decoded.used :] == b""


@given(
    st.lists(st.one_of(st.integers(0, 65535).map(lambda tenths: of_weight(tenths, 7)), NOISE), max_size=8),
    st.lists(st.integers(0, 1500), max_size=8),
)
def test_frames_of_which_nothing_stays_are_the_same_in_any_pieces(unmarked, parts, cuts):
    assert_pieces_agree(unmarked, b"".join(parts), cuts)


UNCHECKED = """
name = "plain"
kind = "serial-frames"
[[frame]]
header = [0xAA, 0x55]
length = 6
"""


def test_a_frame_without_a_check_that_has_lost_bytes_costs_no_other(folder):
    weight = field(holds='"weight"', offset=2, width=2, order='"big"', unit='"g"')
    decoder = PacketDecoder(described(f"{UNCHECKED}{weight}", folder))
    whole = [bytes.fromhex("AA55") + struct.pack(">HH", grams, 0) for grams in (100, 200, 300)]
    decoded = decoder.decode(whole[0] + whole[0][:4] + whole[1] + whole[2])
    assert [one.value for one in decoded.measurements] == [100.0, 200.0, 300.0]
    assert decoded.rejected == 1


def test_a_header_inside_a_frame_without_a_check_is_no_beginning(folder):
    weight = field(holds='"weight"', offset=2, width=2, order='"big"', unit='"g"')
    decoder = PacketDecoder(described(f"{UNCHECKED}{weight}", folder))
    odd = bytes.fromhex("AA55 AA55 0000")
    assert [one.value for one in decoder.decode(odd + odd).measurements] == [0xAA55, 0xAA55]
    assert [one.value for one in decoder.decode(odd).measurements] == [0xAA55]


def test_a_terminator_that_never_comes_does_not_hold_up_the_rest(folder):
    text = (
        'name = "x"\nkind = "serial-frames"\n[[frame]]\nheader = ":"\nterminator = "\\r\\n"\nlongest = 20\n'
    )
    text += field(holds='"weight"', offset=1, width=4, encoding='"ascii"', unit='"g"')
    decoder = PacketDecoder(described(text, folder))
    assert [one.value for one in decoder.decode(b":12.5 g\r\n:  +3\r\n").measurements] == [12.5, 3.0]
    assert decoder.decode(b":" + b"x" * 15).used == 0  # may still end
    decoded = decoder.decode(b":" + b"x" * 30)
    assert decoded.used == 0
    decoded = decoder.decode(b":" + b"x" * 30 + b":12.5\r\n")
    assert [one.value for one in decoded.measurements] == [12.5]
    assert decoded.last_rejected.why == "its length is impossible"


def test_a_terminator_inside_a_weight_ends_nothing(folder):
    text = 'name = "x"\nkind = "serial-frames"\n[[frame]]\nheader = ":"\nterminator = "\\r\\n"\n'
    text += field(holds='"weight"', offset=1, width=2, order='"big"', unit='"g"')
    decoded = PacketDecoder(described(text, folder)).decode(b":\r\n\r\n:\x00\x05\r\n")
    assert [one.value for one in decoded.measurements] == [0x0D0A, 5.0]


def test_a_frame_that_says_it_is_shorter_than_its_fields(folder):
    text = 'name = "x"\nkind = "serial-frames"\n[[frame]]\nheader = [0xAA]\nlength_field = { offset = 1 }\n'
    text += field(holds='"weight"', offset=2, width=2, order='"big"', unit='"g"')
    decoder = PacketDecoder(described(text, folder))
    decoded = decoder.decode(bytes.fromhex("AA 03 00  AA 04 00 05"))
    assert [one.value for one in decoded.measurements] == [5.0]
    assert decoded.rejected == 1


def test_two_kinds_of_frames_on_one_line(folder):
    text = 'name = "x"\nkind = "serial-frames"\n'
    text += '[[frame]]\nheader = [0xAA, "?", 0x01]\nlength = 5\n'
    text += field(holds='"weight"', offset=3, width=2, order='"big"', unit='"g"')
    text += "\n[[frame]]\nheader = [0xAA, 0x77, 0x02]\nlength = 4\n" + field(
        holds='"battery_percent"', offset=3
    )
    decoder = PacketDecoder(described(text, folder))
    decoded = decoder.decode(bytes.fromhex("AA 00 01 00 05  AA 77 02 50  AA 99 01 01 00"))
    assert [one.value for one in decoded.measurements] == [5.0, 256.0]
    assert decoded.battery_percent == 80
    assert (decoded.lines, decoded.rejected) == (3, 0)


def test_packets_of_two_characteristics(folder):
    text = 'name = "x"\nkind = "ble"\nble.notify = ["2a9d", "2a19"]\n'
    text += '[[frame]]\ncharacteristic = "2a9d"\n' + field(
        holds='"weight"', offset=0, width=2, order='"little"', unit='"g"'
    )
    text += '\n[[frame]]\ncharacteristic = "2a19"\n' + field(holds='"battery_percent"', offset=0)
    decoder = PacketDecoder(described(text, folder))
    weight, battery = (f"0000{short}-0000-1000-8000-00805f9b34fb" for short in ("2a9d", "2a19"))
    (measurement,) = decoder.decode_packet(b"\x05\x00", weight)
    assert measurement.value == 5.0
    assert decoder.battery_percent(b"\x05\x00", weight) is None
    assert decoder.decode_packet(b"\x63", battery) == ()
    assert decoder.battery_percent(b"\x63", battery) == 99
    assert decoder.battery_percent(b"\xff", battery) is None


# Values from outside


WEIGHT = {"holds": '"weight"', "unit": '"kg"', "order": '"little"'}


@pytest.mark.parametrize(
    ("keys", "packet", "value"),
    [
        # Weight Measurement 0x2A9D, 0.005 kg a step: Bluetooth SIG GATT Specification Supplement; the values
        # also from bluetooth-sig 0.6.0
        ({**WEIGHT, "offset": 1, "width": 2, "scale": 0.005}, "00 E8 03", 5000.0),
        ({**WEIGHT, "offset": 1, "width": 2, "scale": 0.005}, "00 64 00", 500.0),
        ({**WEIGHT, "offset": 1, "width": 2, "scale": 0.01, "unit": '"lb"'}, "01 E8 03", 4535.9237),
        # Temperature 0x2A6E, sint16, 0.01 °C, 0x8000 for unknown: the same supplement
        (
            {
                "holds": '"temperature"', "unit": '"C"', "order": '"little"', "offset": 0, "width": 2,
                "scale": 0.01, "signed": '"twos-complement"', "no_value": "0x8000",
            },
            "8C 24",
            93.56,
        ),
        # BTHome v2 (bthome.io/format): mass 0x06, u16, 0.01 kg; the value from bthome-ble 3.25.0
        ({**WEIGHT, "offset": 2, "width": 2, "scale": 0.01}, "40 06 5E 1F", 80300.0),
        # USB-IF HID Point of Sale Usage Tables: the example report XX 02 00 14 00, 20 g
        ({**WEIGHT, "offset": 3, "width": 2, "unit": '"g"'}, "04 02 00 14 00", 20.0),
        # IEEE 754 binary32 of 93.4 is 0x42BACCCD, of -0.5 is 0xBF000000
        (
            {
                "holds": '"temperature"', "unit": '"°C"', "order": '"big"', "offset": 0, "width": 4,
                "encoding": '"float"',
            },
            "42 BA CC CD",
            93.4,
        ),
    ],
)  # fmt: skip
def test_packets_of_open_standards_can_be_described(folder, keys, packet, value):
    assert one_value(packet_decoder(field(**keys), folder), packet)[0] == pytest.approx(value, rel=1e-7)


def test_a_checksum_from_outside(folder):
    """Modbus over Serial Line V1.02, appendix: the CRC of 02 07 goes over the line as 41 12."""
    check = "[frame.checksum]\nkind = 'crc16'\nat = -2\norder = 'little'\npolynomial = 0x8005\n"
    check += "init = 0xFFFF\nrefin = true\nrefout = true"
    decoder = packet_decoder(check + "\n" + field(holds='"weight"', offset=1, unit='"g"'), folder)
    assert one_value(decoder, "02 07 41 12") == (7.0, Status.UNKNOWN)
    assert isinstance(decoder.decode_packet(bytes.fromhex("02 07 12 41")), Rejected)


def test_a_checksum_written_in_hexadecimal(folder):
    # By hand: "+12.5" is 2B 31 32 2E 35, together F1.
    check = "[frame.checksum]\nkind = 'sum8'\nat = 6\nfrom = 1\nto = 6\nwritten = 'hex'"
    fields = field(holds='"weight"', offset=1, width=5, encoding='"ascii"', unit='"g"')
    decoder = packet_decoder(f"{check}\n{fields}", folder, "header = ':'")
    assert one_value(decoder, b":+12.5F1".hex())[0] == 12.5
    assert one_value(decoder, b":+12.5f1".hex())[0] == 12.5
    assert isinstance(decoder.decode_packet(b":+12.6F1"), Rejected)


# What fields can be


def test_units_by_a_code(folder):
    unit = '{ offset = 2, mask = 0x70, values = { 0x0 = "g", 0x1 = "oz", "\\u0002" = "kg" } }'
    decoder = packet_decoder(field(holds='"weight"', offset=0, width=2, order='"big"', unit=unit), folder)
    assert one_value(decoder, "00 10 0F") == (16.0, Status.UNKNOWN)
    # NIST SP 811 (2008), B.8: 16 oz are a pound, exactly 453.59237 g
    assert one_value(decoder, "00 10 1F")[0] == 453.59237
    assert one_value(decoder, "00 10 2F")[0] == 16000.0
    refused = decoder.decode_packet(bytes.fromhex("00 10 3F"))
    assert refused.unknown_unit == "0x03"
    assert refused.why == "unit code 0x03 is not one of 0x00 g, 0x01 oz, 0x02 kg"


def test_units_by_their_letters(folder):
    unit = '{ offset = 2, width = 2, order = "big", values = { "g " = "g", "lb" = "lb" } }'
    decoder = packet_decoder(field(holds='"weight"', offset=0, width=2, order='"big"', unit=unit), folder)
    assert one_value(decoder, b"\x00\x01g ".hex())[0] == 1.0
    assert one_value(decoder, b"\x00\x01lb".hex())[0] == 453.59237


def test_a_code_for_no_value(folder):
    keys = {"offset": 0, "width": 2, "order": '"big"', "signed": '"twos-complement"', "unit": '"C"'}
    decoder = packet_decoder(field(holds='"temperature"', no_value="[0x8000, 0x7FFF]", **keys), folder)
    for packet in ("80 00", "7F FF"):
        value, status = one_value(decoder, packet)
        assert math.isnan(value)
        assert status is Status.ERROR
    assert one_value(decoder, "80 01")[0] == -32767.0


@pytest.mark.parametrize(
    ("number", "status"),
    [
        (math.nan, Status.ERROR),
        (math.inf, Status.OVERLOAD),
        (-math.inf, Status.UNDERLOAD),
        # SCPI-1999, volume 1, section 7.2.1: 9.91E37 is "not a number", 9.9E37 the infinities
        (9.91e37, Status.ERROR),
        (9.9e37, Status.OVERLOAD),
        (-9.9e37, Status.UNDERLOAD),
    ],
)
@pytest.mark.parametrize("width", [4, 8])
def test_a_float_that_is_no_number_is_no_value(folder, number, status, width):
    keys = {"offset": 0, "width": width, "order": '"little"', "encoding": '"float"', "unit": '"F"'}
    packet = struct.pack("<f" if width == 4 else "<d", number)
    value, said = one_value(packet_decoder(field(holds='"temperature"', **keys), folder), packet.hex())
    assert math.isnan(value)
    assert said is status


@pytest.mark.parametrize(
    ("keys", "packet"),
    [
        ({"width": 2, "order": '"big"', "encoding": '"bcd"'}, "1A 00"),
        ({"width": 4, "encoding": '"ascii"'}, b"1.2.".hex()),
        ({"width": 4, "encoding": '"ascii"'}, b"----".hex()),
        ({"width": 4, "encoding": '"ascii"'}, b"    ".hex()),
        ({"width": 4, "encoding": '"ascii"'}, b"1\xb2  ".hex()),
        ({"sign": "{ offset = 1, negative = 0x2D, positive = 0x2B }"}, "01 00"),
    ],
)
def test_a_field_that_cannot_be_read_refuses_its_packet(folder, keys, packet):
    decoder = packet_decoder(field(holds='"weight"', offset=0, unit='"g"', **keys), folder)
    assert isinstance(decoder.decode_packet(bytes.fromhex(packet)), Rejected)


def test_zero_and_scale(folder):
    keys = {"offset": 0, "width": 2, "order": '"big"', "unit": '"C"', "zero": 400, "scale": 0.1}
    decoder = packet_decoder(field(holds='"temperature"', **keys), folder)
    assert one_value(decoder, "05 36")[0] == 93.4  # 1334 - 400, tenths
    assert one_value(decoder, "00 00")[0] == -40.0


def test_the_stable_flag_and_the_clock_go_with_the_weight(folder):
    fields = [
        field(holds='"weight"', offset=0, unit='"g"'),
        field(holds='"stable"', offset=1, mask="0x04", when=0),
        field(holds='"device_time"', offset=2, width=4, order='"little"', unit='"ms"'),
    ]
    decoder = packet_decoder("\n".join(fields), folder)
    (measurement,) = decoder.decode_packet(bytes.fromhex("07 FB 39 30 00 00"))
    assert (measurement.status, measurement.device_time_s) == (Status.STABLE, 12.345)
    (measurement,) = decoder.decode_packet(bytes.fromhex("07 04 39 30 00 00"))
    assert measurement.status is Status.MOVING


def test_raw_sensors_in_a_packet(folder):
    text = 'name = "x"\nkind = "ble"\nble.notify = "2a9d"\n'
    text += '[[sensor]]\nzero = 8400\ncounts_per_g = 421.3\nthermocouple = "K"\n[[frame]]\n'
    signed = {"width": 3, "order": '"big"', "signed": '"twos-complement"'}
    text += field(holds='"counts"', offset=0, **signed) + "\n"
    text += field(holds='"thermocouple_mv"', offset=3, width=2, order='"big"', scale=0.001) + "\n"
    text += field(holds='"cold_c"', offset=5, width=2, order='"big"', scale=0.1)
    decoder = PacketDecoder(described(text, folder))
    counts, microvolts, tenths = 8400 + 4213, 2806, 250
    packet = counts.to_bytes(3, "big") + microvolts.to_bytes(2, "big") + tenths.to_bytes(2, "big")
    weight, temperature = decoder.decode_packet(packet)
    assert weight.value == pytest.approx(10.0)
    # NIST SRD 60, type K: tip at 93 °C, terminals at 25 °C, 3.806 - 1.000 = 2.806 mV (also run with
    # thermocouple-its90 1.0.2 and thermocouples 2.1.2)
    assert temperature.value == pytest.approx(93.0, abs=0.03)

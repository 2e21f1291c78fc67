"""Descriptions with mistakes in them: each is told with its line, its field and what to do."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import AddressError
from drivers.decoders.packets import PacketDecoder
from drivers.described import DescriptionError, check_description, read_description
from drivers.described.description import Bits
from drivers.described.form import FIELDS

FRAMES = """\
name = "bench scale"
kind = "serial-frames"
tare = [0x54]

[serial]
baud = 19200

[[frame]]
header = [0xAA, 0x55]
length = 8

[frame.checksum]
kind = "sum16"
at = 6
order = "big"

[[frame.field]]
holds = "weight"
offset = 2
width = 3
order = "big"
signed = "twos-complement"
scale = 0.1
unit = "g"

[[frame.field]]
holds = "stable"
offset = 5
mask = 0x01
"""

BARE = """\
name = "bare scale"
kind = "serial-frames"
[serial]
baud = 19200
[[frame]]
length = 8
[[frame.field]]
holds = "weight"
offset = 2
unit = "g"
"""

BLE = """\
name = "radio scale"
kind = "ble"
tare = [0x54]
[ble]
service = "181d"
notify = "9F4A0002-53C1-4B2E-9D07-1C5E8A7B0000"
write = "2a9d"
[[frame]]
[[frame.field]]
holds = "weight"
offset = 0
width = 2
order = "little"
unit = "g"
"""

LINES = """\
name = "bench board"
kind = "serial-lines"
[lines]
pattern = "time_ms,counts"
[[sensor]]
counts_per_g = 421.3
"""


def mistakes(tmp_path, text: str, *changes: tuple[str, str]) -> list[tuple[int, str, str]]:
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    path = tmp_path / "device.toml"
    path.write_text(text, encoding="utf-8")
    found = check_description(path)
    assert all(mistake.where == str(path) and mistake.remedy.endswith((".", "?")) for mistake in found)
    return [(mistake.line, mistake.field, mistake.what) for mistake in found]


TOLD_BY_CHECK = BARE.replace("[[frame.field]]", '[frame.checksum]\nkind = "sum8"\nat = -1\n[[frame.field]]')
TOLD_BY_END = BARE.replace("length = 8", "length = 8\nterminator = [0x03]")


@pytest.mark.parametrize("text", [FRAMES, BLE, LINES, TOLD_BY_CHECK, TOLD_BY_END])
def test_without_a_mistake_there_is_nothing_to_say(tmp_path, text):
    assert mistakes(tmp_path, text) == []


FIELD, CHECK, CHARACTERISTIC = "frame 1, field 1, ", "frame 1, checksum, ", "frame 1, characteristic"
LINE_CHECK = "lines, checksum, "


@pytest.mark.parametrize(
    ("text", "change", "line", "field", "what"),
    [
        (FRAMES, ('name = "bench scale"\n', ""), 1, "name", "it is missing"),
        (FRAMES, ('"serial-frames"', '"serial-frame"'), 2, "kind", "is not known here"),
        (FRAMES, ("tare = [0x54]", "tare = [0x154]"), 3, "tare", "a list where bytes belong"),
        (FRAMES, ("tare = [0x54]", "tare = 0x54"), 3, "tare", "a number where bytes belong"),
        (FRAMES, ("tare = [0x54]", "start = [[1], 2]"), 3, "start", "not every command"),
        (FRAMES, ("[0x54]", "[0x54]\npoll = {send = 'R'}"), 4, "poll, every_ms", "missing"),
        (FRAMES, ("[0x54]", "[0x54]\npoll = {send = 'R', every_ms = 1}"), 4, "poll, every_ms", "1 is not"),
        (FRAMES, ("[0x54]", "[0x54]\nkeep_alive = {every_s = 1}"), 4, "keep_alive, send", "missing"),
        (FRAMES, ("baud = 19200", "baud = 0"), 6, "serial, baud", "0 is not from 50"),
        (FRAMES, ("baud = 19200", "baud = 9600.0"), 6, "serial, baud", "whole number"),
        (FRAMES, ("baud = 19200", "bauds = 19200"), 6, "serial, bauds", "no such field"),
        (FRAMES, ("baud = 19200", "stopbits = 3"), 6, "serial, stopbits", "3 is not 1, 1.5 or 2"),
        (FRAMES, ("baud = 19200", 'parity = "odds"'), 6, "serial, parity", "is not known"),
        (FRAMES, ("[serial]", "[lines]"), 5, "lines", 'a device of kind "serial-frames" has none'),
        (BARE, ("baud = 19200", "baud = 9600"), 5, "frame 1, header", "nothing tells where a frame begins"),
        (BARE, ("length = 8", 'header = ["?"]\nlength = 8'), 6, "frame 1, header", "nothing tells where"),
        (FRAMES, ("[0xAA, 0x55]", '[0xAA, "x"]'), 9, "frame 1, header", "where bytes belong"),
        (FRAMES, ("length = 8\n", ""), 8, "frame 1, length", "nothing tells where a frame ends"),
        (FRAMES, ("length = 8", "length = 8000"), 10, "frame 1, length", "8000 is not from 1 to 256"),
        (FRAMES, ("length = 8", "length = 1"), 10, "frame 1, length", "longer than 1 bytes"),
        (
            FRAMES,
            ("length = 8", "length = 8\nlength_field = {offset = 2}"),
            11,
            "frame 1, length_field",
            "needs no word about its length",
        ),
        (
            FRAMES,
            ("length = 8", "length_field = {offset = -1}"),
            10,
            "frame 1, length_field, offset",
            "an end that it is needed to find",
        ),
        (
            FRAMES,
            ("length = 8", "length_field = {offset = 2}\nlongest = 4"),
            11,
            "frame 1, longest",
            "its fields alone take 8 bytes",
        ),
        (FRAMES, ('"sum16"', '"crc16"'), 12, CHECK + "polynomial", "missing"),
        (FRAMES, ('"sum16"', '"crc16"\npolynomial = 0x18005'), 14, CHECK + "polynomial", "is not from"),
        (FRAMES, ('"sum16"', '"sum16"\nrefin = true'), 14, CHECK + "refin", "sum16 has none"),
        (FRAMES, ("at = 6\n", "at = 7\n"), 14, CHECK + "at", "2 bytes at 7 are not within a frame of 8"),
        (FRAMES, ("at = 6\n", "at = 6\nto = 7\n"), 15, CHECK + "to", "covers itself"),
        (FRAMES, ("at = 6\n", "at = 6\nfrom = 5\nto = 3\n"), 15, CHECK + "from", "covers nothing"),
        (FRAMES, ('order = "big"\n\n', "\n"), 12, CHECK + "order", "two bytes have an order"),
        (FRAMES, ('"weight"', '"wieght"'), 18, FIELD + "holds", "is not known here"),
        (FRAMES, ("offset = 2\n", ""), 17, FIELD + "offset", "missing"),
        (FRAMES, ("offset = 2", "offset = -2"), 19, FIELD + "offset", "not within a frame of 8"),
        (FRAMES, ("offset = 2", "offset = 4"), 19, FIELD + "offset", "where the checksum stands"),
        (FRAMES, ("width = 3", "width = 9"), 20, FIELD + "width", "9 is not from 1 to 8"),
        (FRAMES, ('order = "big"\nsigned', "signed"), 17, FIELD + "order", "3 bytes have an order"),
        (FRAMES, ('"twos-complement"', '"two"'), 22, FIELD + "signed", "not known"),
        (FRAMES, ("scale = 0.1", "scale = 0"), 23, FIELD + "scale", "everything would be 0"),
        (FRAMES, ("scale = 0.1", "scale = 1e300"), 23, FIELD + "scale", "out of all proportion"),
        (FRAMES, ("scale = 0.1", "scale = nan"), 23, FIELD + "scale", "nan is no amount"),
        (FRAMES, ("scale = 0.1", 'encoding = "bcd"'), 22, FIELD + "signed", "goes with a plain integer"),
        (FRAMES, ('unit = "g"', ""), 17, FIELD + "unit", "missing"),
        (FRAMES, ('unit = "g"', 'unit = "ct"'), 24, FIELD + "unit", "'ct' is no unit"),
        (FRAMES, ('unit = "g"', 'unit = "°C"'), 24, FIELD + "unit", "°C is no unit of a weight"),
        (FRAMES, ('"g"', "{offset = 9, values = {1 = 'g'}}"), 24, FIELD + "unit, offset", "within"),
        (FRAMES, ('"g"', "{offset = 5}"), 24, FIELD + "unit, values", "missing"),
        (FRAMES, ('"g"', "{offset = 5, values = {1 = 'x'}}"), 24, FIELD + "unit, values", "'x'"),
        (FRAMES, ('"g"', "{offset = 5, values = {kg = 'kg'}}"), 24, FIELD + "unit, values", "width"),
        (FRAMES, ('unit = "g"', 'unit = "g"\nstep = 0'), 25, FIELD + "step", "more than 0"),
        (FRAMES, ('unit = "g"', 'unit = "g"\nchannel = "a b"'), 25, FIELD + "channel", "no name"),
        (FRAMES, ('unit = "g"', 'unit = "g"\nno_value = "x"'), 25, FIELD + "no_value", "codes belong"),
        (FRAMES, ('unit = "g"', 'unit = "g"\nwhen = 1'), 25, FIELD + "when", "means nothing for weight"),
        (FRAMES, ("mask = 0x01", "mask = 0x100"), 29, "frame 1, field 2, mask", "more bits than 1 bytes"),
        (FRAMES, ("mask = 0x01", "mask = 0"), 29, "frame 1, field 2, mask", "0 is not from 1"),
        (FRAMES, ("mask = 0x01", "scale = 2"), 29, "frame 1, field 2, scale", "means nothing for stable"),
        (FRAMES, ('"stable"', '"status"'), 26, "frame 1, field 2, values", "missing"),
        (
            FRAMES,
            ('"stable"\noffset = 5\nmask = 0x01', '"weight"\noffset = 5\nunit = "g"'),
            26,
            "frame 1, field 2, channel",
            "another field is a g without a name too",
        ),
        (
            FRAMES,
            ('"stable"\noffset = 5\nmask = 0x01', '"temperature"\noffset = 5\nmask = 0x05\nunit = "C"'),
            29,
            "frame 1, field 2, mask",
            "not side by side",
        ),
        (
            FRAMES,
            ('"stable"\noffset = 5\nmask = 0x01', '"counts"\noffset = 5\nchannel = "a"'),
            27,
            "frame 1, field 2, holds",
            "how many counts one gram makes is not known",
        ),
        (
            FRAMES,
            ('"stable"\noffset = 5\nmask = 0x01', '"cold_c"\noffset = 5'),
            27,
            "frame 1, field 2, holds",
            "no thermocouple in this frame",
        ),
        (
            FRAMES,
            ('.field]]\nholds = "stable"\noffset = 5\nmask = 0x01', "]]\nheader = [0xAA]\nlength = 4"),
            26,
            "frame 2, field",
            "nothing is read",
        ),
        (BLE, ("notify", "notifies"), 4, "ble, notify", "it is missing"),
        (BLE, ("9F4A", "9F4"), 6, "ble, notify", "is no UUID"),
        (BLE, ('write = "2a9d"\n', ""), 4, "ble, write", "the description has commands"),
        (BLE, ("[[frame]]", '[[frame]]\ncharacteristic = "2a19"'), 9, CHARACTERISTIC, "subscribes"),
        (BLE, ('"weight"', '"battery_percent"'), 14, "frame 1, field 1, unit", "means nothing for"),
        (FRAMES.partition("[[frame]]")[0], ("tare", "frame = []\ntare"), 3, "frame", "it is missing"),
        (LINES, ("counts_per_g = 421.3", "zero = 1"), 4, "lines, pattern", "how many counts one gram makes"),
        (LINES, ("counts_per_g = 421.3", "counts_per_g = 0"), 6, "sensor 1, counts_per_g", "weigh nothing"),
        (LINES, ("counts_per_g = 421.3", 'rtd = "pt50"'), 6, "sensor 1, rtd", "not known"),
        (LINES, ("counts_per_g = 421.3", "thermistor = [1, 2]"), 6, "sensor 1, thermistor", "coefficients"),
        (LINES, ("time_ms", "time_sm"), 4, "lines, pattern", "wrong at character 1"),
        (LINES, ("pattern =", "scpi ="), 4, "lines, scpi", "is not known"),
        (LINES, ('pattern = "time_ms,counts"', ""), 3, "lines, pattern", "it is missing"),
        (LINES, ("pattern = ", "scpi = 'weight'\nunit = 'C'\n#"), 5, "lines, unit", "no unit of"),
        (LINES, ("[[sensor]]", "[sensor]"), 5, "sensor", "one table where a list of sensors belongs"),
        (LINES, ("[lines]", "[[lines]]"), 3, "lines", "a list where a table belongs"),
        (LINES, ("[[sensor]]", "[lines.checksum]\nat = -2\n[[sensor]]"), 5, LINE_CHECK + "kind", "missing"),
        (
            LINES,
            ("[[sensor]]", "[lines.checksum]\nkind = 'xor8'\n[[sensor]]"),
            5,
            LINE_CHECK + "at",
            "missing",
        ),
        (
            LINES,
            ("[[sensor]]", "[lines.checksum]\nkind = ['xor8', 'crc8']\nat = -2\n[[sensor]]"),
            6,
            LINE_CHECK + "kind",
            "sums of one byte",
        ),
        (
            LINES,
            ("[[sensor]]", "[lines.checksum]\nkind = ['xor8', 'sum']\nat = -2\n[[sensor]]"),
            6,
            LINE_CHECK + "kind",
            "not all of",
        ),
        (
            LINES,
            ("[[sensor]]", "[lines.checksum]\nkind = 'xor8'\nat = -2\nwritten = 'bytes'\n[[sensor]]"),
            8,
            LINE_CHECK + "written",
            "is not known",
        ),
        (
            LINES,
            ("[[sensor]]", "[lines.checksum]\nkind = 'xor8'\nat = -2\nfrom = -4\nto = -1\n[[sensor]]"),
            9,
            LINE_CHECK + "to",
            "it covers itself",
        ),
        (
            LINES,
            ("pattern = ", "scpi = 'weight'\nchecksum = { kind = 'xor8', at = -2 }\n#"),
            5,
            "lines, checksum",
            "send none",
        ),
        (LINES, ("[[sensor]]", "encoding = 'hex'\n[[sensor]]"), 3, "lines, width", "missing"),
        (LINES, ("[[sensor]]", "encoding = 'hexa'\n[[sensor]]"), 5, "lines, encoding", "is not known"),
        (LINES, ("[[sensor]]", "encoding = 'hex'\nwidth = 17\n[[sensor]]"), 6, "lines, width", "1 to 16"),
        (
            LINES,
            ("[[sensor]]", "encoding = 'hex'\nwidth = 4\nsigned = 'yes'\n[[sensor]]"),
            7,
            "lines, signed",
            "is not known",
        ),
        (LINES, ("[[sensor]]", "width = 4\n[[sensor]]"), 5, "lines, width", "means nothing without encoding"),
        (LINES, ("[[sensor]]", "minus = 'N'\n[[sensor]]"), 5, "lines, minus", "there is none in the pattern"),
        (LINES, ('counts"', 'counts sign"\nminus = "N N"'), 5, "lines, minus", "without blanks"),
        (LINES, ('counts"', 'counts sign"\nminus = ""'), 5, "lines, minus", "without blanks"),
        (
            LINES,
            ('counts"', 'counts sign"\nencoding = "hex"\nwidth = 4'),
            4,
            "lines, pattern",
            "have their sign among them",
        ),
        (
            LINES,
            ("[[sensor]]", "signed = 'sign-bit'\n[[sensor]]"),
            5,
            "lines, signed",
            "means nothing without encoding",
        ),
        (
            LINES,
            ('counts"', 'weight"\nencoding = "hex"\nwidth = 4'),
            5,
            "lines, encoding",
            "there are none in the pattern",
        ),
        (
            LINES,
            ("pattern = ", "scpi = 'weight'\nencoding = 'hex'\nwidth = 4\n#"),
            5,
            "lines, encoding",
            "means nothing without a pattern",
        ),
        (LINES, ('name = "bench board"', "name = bench"), 1, "name", "the value cannot be read"),
        (FRAMES, ("[0x54]", "0x54 0x55"), 3, "tare", "more on the line than one value"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_line_and_its_field(tmp_path, text, change, line, field, what):
    found = mistakes(tmp_path, text, change)
    assert any((line, field) == (at, name) and what in said for at, name, said in found), found


def test_two_kinds_of_frames_that_begin_alike(tmp_path):
    other = "[[frame]]\nheader = [0xAA]\nlength = 4\n[[frame.field]]\nholds = 'battery_percent'\noffset = 1\n"
    assert mistakes(tmp_path, FRAMES + other) == [
        (31, "frame 2, header", "another frame may begin like this")
    ]


def test_a_mistake_is_not_told_twice(tmp_path):
    assert len(mistakes(tmp_path, FRAMES, ("width = 3", "width = 900"))) == 1


def test_all_mistakes_are_told_at_once_in_the_order_of_their_lines(tmp_path):
    changes = [("baud = 19200", "baud = 0"), ("at = 6", "at = 60"), ('unit = "g"', 'unit = "ct"')]
    path = tmp_path / "device.toml"
    lines = [line for line, _, _ in mistakes(tmp_path, FRAMES, *changes)]
    assert lines == [6, 14, 24]
    with pytest.raises(DescriptionError) as caught:
        read_description(path)
    assert str(caught.value).startswith(
        f"{path}: 3 mistakes in this description:\n  line 6, serial, baud: 0 is"
    )
    assert caught.value.is_bad_input


def test_one_mistake_is_one_line(tmp_path):
    mistakes(tmp_path, FRAMES, ("baud = 19200", "baud = 0"))
    with pytest.raises(DescriptionError) as caught:
        read_description(tmp_path / "device.toml")
    assert str(caught.value) == (
        f"{tmp_path}/device.toml, line 6, serial, baud: 0 is not from 50 to 4000000. "
        "Write baud = 9600, for instance: a whole number from 50 to 4000000."
    )


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(AddressError, match="cannot be read: no such file"):
        read_description(tmp_path / "none.toml")
    with pytest.raises(AddressError, match="no file name"):
        read_description("a\0b")
    with pytest.raises(AddressError, match="cannot be read: is a directory"):
        check_description(tmp_path)


def test_a_file_that_is_no_text(tmp_path):
    path = tmp_path / "device.toml"
    path.write_bytes(FRAMES.encode().replace(b"bench", b"b\xe9nch"))
    (mistake,) = check_description(path)
    assert (mistake.line, mistake.what) == (1, "the byte 0xe9 is not UTF-8 text")


def test_what_is_said_in_short(tmp_path):
    mistakes(tmp_path, BLE)
    bluetooth = read_description(tmp_path / "device.toml").bluetooth
    # Bluetooth Core Specification, vol. 3, part B, 2.5.1: the base UUID
    assert bluetooth.service == "0000181d-0000-1000-8000-00805f9b34fb"
    assert bluetooth.notify == ("9f4a0002-53c1-4b2e-9d07-1c5e8a7b0000",)


@pytest.mark.parametrize(("mask", "shift", "count"), [(0, 0, 16), (1, 0, 1), (0x0FF0, 4, 8), (0x8000, 15, 1)])
def test_bits(mask, shift, count):
    bits = Bits(0, 2, "big", mask)
    assert (bits.shift, bits.count) == (shift, count)


# Whatever the file says, it is read or its mistakes are told.

ANYTHING = st.one_of(
    st.integers(-300, 300).map(str),
    st.sampled_from(
        ["0.1", "nan", "inf", "1e400", "true", '""', '"x"', '"big"', '"crc16"', '"weight"', "[]"]
    ),
    st.sampled_from(['[1, "?"]', "{}", "{ offset = 1 }", "{ 1 = 'g' }", "[[1], 'x']", "1979-05-27", '"?"']),
)


@given(st.sampled_from([FRAMES, BLE, LINES]), st.data())
def test_whatever_stands_in_a_field(tmp_path_factory, text, data):
    lines = text.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        kind = data.draw(st.sampled_from(list(FIELDS)))
        name = data.draw(st.sampled_from(FIELDS[kind]))
        key = lines[at].partition("=")[0].strip() if "=" in lines[at] and data.draw(st.booleans()) else name
        lines[at] = f"{key} = {data.draw(ANYTHING)}"
    path = tmp_path_factory.getbasetemp() / "anything.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    found = check_description(path)
    if not found and (description := read_description(path)).frames:
        PacketDecoder(description).decode(bytes(range(256)) * 2)
    for mistake in found:
        assert 1 <= mistake.line <= len(lines)
        assert mistake.what
        assert mistake.remedy.endswith((".", "?"))


@given(st.binary(max_size=60))
def test_whatever_bytes_are_in_the_file(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "bytes.toml"
    path.write_bytes(data)
    assert check_description(path)

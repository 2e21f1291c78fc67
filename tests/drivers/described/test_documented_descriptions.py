"""What docs/described-devices.md shows and says is what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from drivers import Status
from drivers.address import parse_address
from drivers.decoders.checked_lines import described_lines
from drivers.decoders.packets import PacketDecoder
from drivers.decoders.raw_sensors import RAW_WORDS
from drivers.described import read_description
from drivers.described.form import FIELDS
from drivers.device import ChannelNames
from drivers.serial_options import serial_options
from tests.drivers.decoders.written_frames import cyclic

PAGE = (Path(__file__).parents[3] / "docs" / "described-devices.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def read(name: str, folder: Path):
    (text,) = [example for example in EXAMPLES if f'name = "{name}"' in example]
    path = folder / "device.toml"
    path.write_text(text, encoding="utf-8")
    return read_description(path)


def test_there_are_examples_and_all_can_be_read(tmp_path):
    names = [re.search(r'name = "(.*?)"', example)[1] for example in EXAMPLES]
    assert len(names) == 6
    for name in names:
        assert read(name, tmp_path).name == name


@pytest.mark.parametrize("address", re.findall(r"^    (serial:\S+)$", PAGE, re.MULTILINE))
def test_every_address_can_be_used(address, tmp_path):
    if "described=" in address:
        address = address.replace("bench-scale.toml", str(tmp_path / "device.toml"))
        read("bench scale", tmp_path)
    options = serial_options(parse_address(address), ChannelNames())
    shapes = {"described=": "frames", "lines=scpi": "scpi", "pattern=": "pattern"}
    assert [options.shape] == [shape for said, shape in shapes.items() if said in address]
    assert (options.poll is not None) == ("poll=" in address)


def test_the_scale_with_frames_is_read_as_the_page_says(tmp_path):
    description = read("bench scale", tmp_path)
    body = [0x01, *(1234).to_bytes(3, "big"), 87, 0]
    # CRC-16/MODBUS by its definition
    code = cyclic(body, 16, polynomial=0x8005, init=0xFFFF, refin=True, refout=True, xorout=0)
    decoded = PacketDecoder(description).decode(bytes([0xAA, 0x55, *body, code % 256, code // 256]))
    (weight,) = decoded.measurements
    assert (weight.value, weight.status) == (123.4, Status.STABLE)
    assert decoded.battery_percent == 87
    assert description.steps("scale", "thermometer") == {"scale": 0.1}


def test_the_radio_scale_is_read_as_the_page_says(tmp_path):
    description = read("radio scale", tmp_path)
    decoder = PacketDecoder(description)
    (weight,) = decoder.decode_packet(bytes.fromhex("10 81 D2 04 00"))
    assert (weight.value, weight.status) == (-12.34, Status.STABLE)
    (temperature,) = decoder.decode_packet(bytes.fromhex("20 A6 03"))
    assert (temperature.name, temperature.value) == ("kettle", 93.4)
    (nothing,) = decoder.decode_packet(bytes.fromhex("20 00 80"))
    assert nothing.status is Status.ERROR
    assert description.start == (b"\x01\x10", b"\x01\x20")
    assert description.steps("scale", "thermometer") == {"scale": 0.1, "kettle": 0.1}


def test_the_counter_scale_is_read_as_the_page_says(tmp_path):
    lines = described_lines(read("counter scale", tmp_path))
    (shown,) = re.findall(r"This one sends `(.*?)`", PAGE)
    (weight,) = lines.decode(shown.encode() + b"\r\n").measurements
    assert weight.value == 250.0
    assert lines.decode(shown.replace("0250", "0350").encode() + b"\r\n").rejected == 1


def test_the_board_that_prints_hexadecimal_is_read_as_the_page_says(tmp_path):
    lines = described_lines(read("board that prints hexadecimal", tmp_path))
    (shown,) = re.findall(r"always as many of them: `(.*?)`", PAGE)
    (weight,) = lines.decode(shown.encode() + b"\r\n").measurements
    assert weight.value == int("00AB67", 16) / 100
    (below,) = lines.decode(b"w=FFFFFF t=36.00\r\n").measurements
    assert below.value == -0.01
    assert lines.decode(b"w=12AB t=36.00\r\n").rejected == 1


def test_every_field_of_the_file_is_explained():
    for names in FIELDS.values():
        for name in names:
            assert re.search(rf"`[^`]*\b{name}\b[^`]*`|\[+(?:frame\.)?{name}\]", PAGE), name


def test_every_word_for_a_bare_sensor_is_explained():
    assert all(f"\n| `{word}` |" in PAGE for word in (*RAW_WORDS, "cold_c"))

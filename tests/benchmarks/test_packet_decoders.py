"""Packets per second, beside the least that any decoder of packets must do; and a million random packets.

``pytest tests/benchmarks/test_packet_decoders.py --benchmark-only``

The reference unpacks the same bytes with ``struct`` and multiplies: no checks, no flags, no objects.
"""

import struct

import numpy as np
import pytest

from drivers.decoders.bthome import decode_bthome
from drivers.decoders.checksums import crc8, crc16, crc16_modbus, lrc8, sum16, xor8
from drivers.decoders.gatt_battery import decode_battery_level
from drivers.decoders.gatt_temperature import (
    decode_temperature,
    decode_temperature_measurement,
    temperature_measurement_step_c,
)
from drivers.decoders.gatt_weight import decode_weight_feature, decode_weight_measurement
from drivers.decoders.hid_descriptor import read_weighing_layout
from drivers.decoders.hid_weight import decode_scale_report, scale_step_g
from drivers.decoders.ieee11073 import decode_float, decode_sfloat
from drivers.decoders.measurement import Measurement, Rejected
from drivers.decoders.scpi import decode_scpi_numbers
from drivers.sensors import PT100, THERMOCOUPLES, Thermistor

PACKETS = 20_000
COUNTS = range(PACKETS)
SCALE_REPORTS = [struct.pack("<BBBbH", 4, 4, 2, -1, count) for count in COUNTS]
WEIGHTS = [struct.pack("<BH", 0, count) for count in COUNTS]
TEMPERATURES = [b"\0" + count.to_bytes(3, "little") + b"\xfe" for count in COUNTS]
BROADCASTS = [struct.pack("<BBBBhBH", 0x40, 0, count & 0xFF, 2, count, 6, count) for count in COUNTS]
REQUESTS = [struct.pack(">BBHH", 1, 3, count, 2) for count in COUNTS]
ANSWERS = [b"%+.5E" % (count / 100) for count in COUNTS]

RANDOM_PACKETS = 1_000_000
LONGEST = 32


def decoded(decoder, packets) -> int:
    return sum(type(decoder(packet)) is not Rejected for packet in packets)


def unpacked() -> int:
    unpack = struct.Struct("<BBBbH").unpack
    values = []
    for report in SCALE_REPORTS:
        _, _, _, power, count = unpack(report)
        values.append(count * 10.0**power)
    return len(values)


@pytest.mark.benchmark(group="packets")
def test_reference_struct_unpack(benchmark):
    assert benchmark(unpacked) == PACKETS


@pytest.mark.benchmark(group="packets")
@pytest.mark.parametrize(
    ("decoder", "packets"),
    [
        (decode_scale_report, SCALE_REPORTS),
        (decode_weight_measurement, WEIGHTS),
        (decode_temperature_measurement, TEMPERATURES),
        (decode_bthome, BROADCASTS),
        (decode_scpi_numbers, ANSWERS),
        (crc16_modbus, REQUESTS),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_decoders(benchmark, decoder, packets):
    assert benchmark(decoded, decoder, packets) == PACKETS


@pytest.mark.benchmark(group="sensors")
@pytest.mark.parametrize(
    ("convert", "signals"),
    [
        (THERMOCOUPLES["K"].celsius, [count / 5000 for count in COUNTS]),
        (PT100.celsius, [100 + count / 500 for count in COUNTS]),
        (Thermistor.from_beta(3950, 10_000).celsius, [1000.0 + count for count in COUNTS]),
    ],
    ids=["thermocouple", "rtd", "thermistor"],
)
def test_sensors(benchmark, convert, signals):
    assert benchmark(lambda: len([convert(signal) for signal in signals])) == PACKETS


DECODERS = (
    decode_weight_measurement,
    decode_weight_feature,
    decode_temperature_measurement,
    temperature_measurement_step_c,
    decode_temperature,
    decode_battery_level,
    decode_bthome,
    lambda packet: decode_bthome(b"\x40" + packet),
    decode_scale_report,
    scale_step_g,
    read_weighing_layout,
    lambda packet: read_weighing_layout(b"\x05\x8d" + packet),
    decode_scpi_numbers,
    lambda packet: decode_float(packet[:4].ljust(4)),
    lambda packet: decode_sfloat(packet[:2].ljust(2)),
    xor8,
    sum16,
    lrc8,
    crc16_modbus,
    lambda packet: crc8(packet, poly=0x31, init=0xFF),
    lambda packet: crc16(packet, poly=0x1021),
)


def random_packets(count: int, seed: int):
    """Give packets of random length and content, without holding more than a few thousand at a time."""
    random = np.random.default_rng(seed)
    for _ in range(0, count, 5000):
        data = random.bytes(5000 * LONGEST)
        lengths = random.integers(0, LONGEST + 1, 5000).tolist()
        for at, length in enumerate(lengths):
            yield data[at * LONGEST : at * LONGEST + length]


def fuzz() -> tuple[int, int]:
    """Show every random packet to every decoder; an exception ends it."""
    packets = measured = 0
    for packet in random_packets(RANDOM_PACKETS, seed=8):
        packets += 1
        for decoder in DECODERS:
            result = decoder(packet)
            measured += isinstance(result, Measurement)
    return packets, measured


@pytest.mark.benchmark(group="fuzz")
def test_a_million_random_packets_raise_nothing(benchmark):
    packets, measured = benchmark.pedantic(fuzz, rounds=1, iterations=1)
    assert packets == RANDOM_PACKETS
    assert measured > 0

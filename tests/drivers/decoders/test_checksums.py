from __future__ import annotations

import binascii

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.checksums import crc8, crc16, crc16_modbus, lrc8, sum8, sum16, xor8

DIGITS = b"123456789"


# Catalogue of parametrised CRC algorithms (also in docs.rs crc-catalog): parameters and check values.
@pytest.mark.parametrize(
    ("name", "poly", "init", "reflected", "xorout", "check"),
    [
        ("CRC-8/SMBUS", 0x07, 0x00, False, 0x00, 0xF4),
        ("CRC-8/ROHC", 0x07, 0xFF, True, 0x00, 0xD0),
        ("CRC-8/MAXIM-DOW", 0x31, 0x00, True, 0x00, 0xA1),
        ("CRC-8/NRSC-5", 0x31, 0xFF, False, 0x00, 0xF7),
        ("CRC-8/AUTOSAR", 0x2F, 0xFF, False, 0xFF, 0xDF),
        ("CRC-8/I-432-1", 0x07, 0x00, False, 0x55, 0xA1),
    ],
)
def test_eight_bit_checks_of_the_catalogue(name, poly, init, reflected, xorout, check):
    assert crc8(DIGITS, poly=poly, init=init, refin=reflected, refout=reflected, xorout=xorout) == check, name


@pytest.mark.parametrize(
    ("name", "poly", "init", "reflected", "xorout", "check"),
    [
        ("CRC-16/MODBUS", 0x8005, 0xFFFF, True, 0x0000, 0x4B37),
        ("CRC-16/ARC", 0x8005, 0x0000, True, 0x0000, 0xBB3D),
        ("CRC-16/USB", 0x8005, 0xFFFF, True, 0xFFFF, 0xB4C8),
        ("CRC-16/MAXIM-DOW", 0x8005, 0x0000, True, 0xFFFF, 0x44C2),
        ("CRC-16/UMTS", 0x8005, 0x0000, False, 0x0000, 0xFEE8),
        ("CRC-16/IBM-3740", 0x1021, 0xFFFF, False, 0x0000, 0x29B1),
        ("CRC-16/XMODEM", 0x1021, 0x0000, False, 0x0000, 0x31C3),
        ("CRC-16/KERMIT", 0x1021, 0x0000, True, 0x0000, 0x2189),
        ("CRC-16/IBM-SDLC", 0x1021, 0xFFFF, True, 0xFFFF, 0x906E),
        ("CRC-16/GENIBUS", 0x1021, 0xFFFF, False, 0xFFFF, 0xD64E),
        ("CRC-16/DNP", 0x3D65, 0x0000, True, 0xFFFF, 0xEA82),
    ],
)
def test_sixteen_bit_checks_of_the_catalogue(name, poly, init, reflected, xorout, check):
    assert crc16(DIGITS, poly=poly, init=init, refin=reflected, refout=reflected, xorout=xorout) == check, (
        name
    )


# Modbus over Serial Line V1.02: 02 07 is the example of its CRC appendix (place from memory); the low byte
# goes first (p. 14). Others: howeyc/crc16 issue 6, nullfx/NullFX.CRC issue 17, and two common requests
# recomputed with crccheck 1.3.1; the one to station 11 is the Modbus application protocol's own.
@pytest.mark.parametrize(
    ("frame", "on_the_wire"),
    [
        ("02 07", "41 12"),
        ("01 03 00 85 00 01", "95 E3"),
        ("01 03 00 00 00 66", "C5 E0"),
        ("01 03 00 00 00 02", "C4 0B"),
        ("11 03 00 6B 00 03", "76 87"),
        ("12 34 56 78 90", "50 4F"),
    ],
)
def test_modbus_frames(frame, on_the_wire):
    check = crc16_modbus(bytes.fromhex(frame))
    assert check.to_bytes(2, "little") == bytes.fromhex(on_the_wire)
    assert crc16_modbus(bytes.fromhex(frame + on_the_wire)) == 0  # the catalogue's residue


# A worked Modbus ASCII example (cloud.tencent.com 2398638), and pymodbus 3.16.1's own.
@pytest.mark.parametrize(
    ("frame", "check"), [("01 06 04 05 12 34", 0xAA), ("02 07", 0xF7), ("01 03 00 00 00 02", 0xFA)]
)
def test_lrc(frame, check):
    assert lrc8(bytes.fromhex(frame)) == check


def test_sums():
    # 0x31 + ... + 0x39 = 477 = 0x1DD, and the exclusive or of the same is 0x31: by hand
    assert (sum8(DIGITS), sum16(DIGITS), xor8(DIGITS)) == (0xDD, 0x1DD, 0x31)
    assert sum16(b"\xff" * 300) == 300 * 255 - 0x10000


def test_of_nothing():
    assert (sum8(b""), sum16(b""), xor8(b""), lrc8(b""), crc16_modbus(b"")) == (0, 0, 0, 0, 0xFFFF)
    assert crc8(b"", poly=0x07, init=0x12, xorout=0xFF) == 0xED


@given(st.binary(), st.integers(0, 0xFFFF))
def test_the_standard_library_agrees(data, init):
    assert crc16(data, poly=0x1021, init=init) == binascii.crc_hqx(data, init)


@given(st.binary(), st.integers(0, 0xFFFF), st.integers(0, 0xFFFF), st.booleans(), st.booleans())
def test_bit_by_bit(data, poly, init, refin, refout):
    """The textbook's shift register, one bit at a time."""
    register = init
    for byte in data:
        for bit in range(8) if refin else reversed(range(8)):
            leaving = (register >> 15) ^ (byte >> bit & 1)
            register = (register << 1 & 0xFFFF) ^ (poly if leaving else 0)
    # the catalogue gives the start as the register stands before any mirroring
    expected = int(f"{register:016b}"[::-1], 2) if refout else register
    assert crc16(data, poly=poly, init=init, refin=refin, refout=refout) == expected


@given(st.binary(min_size=1), st.integers(0, 7), st.data())
def test_every_single_bit_matters(data, bit, draw):
    at = draw.draw(st.integers(0, len(data) - 1))
    damaged = bytearray(data)
    damaged[at] ^= 1 << bit
    assert crc16_modbus(bytes(damaged)) != crc16_modbus(data)
    assert crc8(bytes(damaged), poly=0x07) != crc8(data, poly=0x07)
    assert sum8(damaged) != sum8(data)
    assert xor8(damaged) != xor8(data)
    assert lrc8(damaged) != lrc8(data)


@given(st.binary())
def test_the_lrc_makes_the_sum_vanish(data):
    assert sum8(data + bytes([lrc8(data)])) == 0

"""Checks of made-up instruments: sums, and CRCs worked out bit by bit."""

from __future__ import annotations

CRC8 = [(0x07, 0, 0, 0), (0x31, 0, 1, 0), (0x31, 0xFF, 0, 0), (0x07, 0, 0, 0x55), (0x1D, 0xFF, 0, 0xFF)]
CRC16 = [
    (0x1021, 0xFFFF, 0, 0), (0x1021, 0, 0, 0), (0x1021, 0, 1, 0), (0x8005, 0xFFFF, 1, 0), (0x8005, 0, 1, 0),
    (0x1021, 0xFFFF, 1, 0xFFFF), (0x8005, 0, 0, 0), (0x3D65, 0, 1, 0xFFFF),
]  # fmt: skip
"""Polynomial, register at the beginning, whether reflected, what is combined at the end."""


def crc(data: bytes, width: int, poly: int, init: int, reflected: int, xorout: int) -> int:
    """Work a CRC out bit by bit, as the catalogues define it."""
    top, register = 1 << (width - 1), init
    for byte in data:
        register ^= (int(f"{byte:08b}"[::-1], 2) if reflected else byte) << (width - 8)
        for _ in range(8):
            register = (register << 1 ^ (poly if register & top else 0)) & (2 * top - 1)
    return (int(f"{register:0{width}b}"[::-1], 2) if reflected else register) ^ xorout


def check_of(kind: str, part: bytes, eight: tuple, sixteen: tuple, order: str) -> bytes:
    """Work out what stands behind some bytes.

    :param kind: ``sum``, ``xor``, ``lrc``, ``crc8`` or ``crc16``
    :param eight: one of ``CRC8``
    :param sixteen: one of ``CRC16``
    """
    if kind == "crc16":
        return crc(part, 16, *sixteen).to_bytes(2, order)
    xor = 0
    for byte in part:
        xor ^= byte
    one = {"sum": sum(part), "xor": xor, "lrc": -sum(part), "crc8": crc(part, 8, *eight)}
    return bytes([one[kind] % 256])

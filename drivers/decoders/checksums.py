"""Checksums of serial frames: sums, exclusive or, and cyclic redundancy checks by their parameters.

The parameters are those of the catalogue of CRC algorithms: polynomial without its leading term, register
at the start, whether bytes go in and the result comes out least significant bit first, and what is combined
with the result at the end.
"""

from __future__ import annotations

from functools import cache, reduce
from operator import xor


def sum8(data: bytes) -> int:
    """Add the bytes, keep 8 bits."""
    return sum(data) & 0xFF


def sum16(data: bytes) -> int:
    """Add the bytes, keep 16 bits."""
    return sum(data) & 0xFFFF


def xor8(data: bytes) -> int:
    """Combine the bytes by exclusive or."""
    return reduce(xor, data, 0)


def lrc8(data: bytes) -> int:
    """Give the two's complement of the sum: what makes the sum of all bytes 0 in its low 8 bits."""
    return -sum(data) & 0xFF


def crc8(
    data: bytes, *, poly: int, init: int = 0, refin: bool = False, refout: bool = False, xorout: int = 0
) -> int:
    """Give the 8-bit check of the bytes by the parameters of the catalogue."""
    return _crc(data, 8, poly, init, refin, refout, xorout)


def crc16(
    data: bytes, *, poly: int, init: int = 0, refin: bool = False, refout: bool = False, xorout: int = 0
) -> int:
    """Give the 16-bit check of the bytes by the parameters of the catalogue."""
    return _crc(data, 16, poly, init, refin, refout, xorout)


def crc16_modbus(data: bytes) -> int:
    """Give the check of a Modbus serial frame, which is sent low byte first."""
    return _crc(data, 16, 0x8005, 0xFFFF, True, True, 0)


def _crc(data: bytes, width: int, poly: int, init: int, refin: bool, refout: bool, xorout: int) -> int:
    table = _table(width, poly, refin)
    mask = (1 << width) - 1
    if refin:
        register = _mirrored(init & mask, width)
        for byte in data:
            register = register >> 8 ^ table[(register ^ byte) & 0xFF]
    else:
        register, shift = init & mask, width - 8
        for byte in data:
            register = (register << 8 & mask) ^ table[register >> shift ^ byte]
    if refin != refout:
        register = _mirrored(register, width)
    return (register ^ xorout) & mask


@cache
def _table(width: int, poly: int, mirrored: bool) -> tuple[int, ...]:
    """Give what each byte makes of an empty register."""
    straight = [_shifted(byte << (width - 8), width, poly) for byte in range(256)]
    if not mirrored:
        return tuple(straight)
    return tuple(_mirrored(straight[_mirrored(byte, 8)], width) for byte in range(256))


def _shifted(register: int, width: int, poly: int) -> int:
    top, mask = 1 << (width - 1), (1 << width) - 1
    for _ in range(8):
        register = (register << 1 ^ (poly if register & top else 0)) & mask
    return register


def _mirrored(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)

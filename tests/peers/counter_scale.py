"""A stand-in scale for a shop's counter, whose lines end in a check.

::

    $+0250.0,ST*A998
    ||       |  |`--- CRC-16/XMODEM of all between $ and *, high byte first, as digits 0 to F
    ||       |  `---- where the check begins
    ||       `------- ST at rest, US not
    |`--------------- weight in g
    `---------------- start
"""

from __future__ import annotations

DESCRIPTION = """\
name = "a counter scale"
kind = "serial-lines"

[lines]
pattern = "$weight_g,_*"

[lines.checksum]
kind       = "crc16"
at         = -4
order      = "big"
from       = 1
to         = -5
polynomial = 0x1021
"""
"""What a user would write about this scale."""


def check(text: bytes) -> int:
    """CRC-16/XMODEM, bit by bit."""
    register = 0
    for byte in text:
        for bit in range(8):
            carry = (register >> 15) ^ (byte >> (7 - bit) & 1)
            register = (register << 1) & 0xFFFF
            if carry:
                register ^= 0x1021
    return register


def line(weight_g: float, *, at_rest: bool = True) -> bytes:
    """Write a weight as this scale sends it."""
    text = f"{weight_g:+07.1f},{'ST' if at_rest else 'US'}".encode("ascii")
    return b"$" + text + f"*{check(text):04X}\r\n".encode("ascii")

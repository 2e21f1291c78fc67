"""A stand-in scale that sends binary frames and wants to be talked to; also a program.

``python tests/peers/framed_scale.py --rate 10 --weights-from weights.txt`` prints the port to open.

::

    A5 | len | flags | weight, 0.01 g, int24, low byte first | °C, 0.1, high byte first | check
     |    |     |                                                                          |
     |    |     `- bit 0 at rest, bit 7 over its range        CRC-16/CCITT-FALSE, high byte first, over all
     |    `------- of the whole frame                         that stands before it
     `------------ header

It sends nothing before ``01``, stops two seconds after the last ``02``, and sets itself to zero at ``03``.
"""

from __future__ import annotations

import argparse
import itertools
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

try:
    from tests.peers.pty_instrument import PtyInstrument
except ImportError:  # run as a program
    from pty_instrument import PtyInstrument  # type: ignore[import-not-found, no-redef]

START, AWAKE, TARE = b"\x01", b"\x02", b"\x03"
AWAKE_S = 2.0

DESCRIPTION = """\
name  = "a scale with frames"
kind  = "serial-frames"
start = [0x01]
tare  = [0x03]
keep_alive = { send = [0x02], every_s = 0.5 }

[[frame]]
header       = [0xA5]
length_field = { offset = 1 }
longest      = 16

[frame.checksum]
kind       = "crc16"
at         = -2
order      = "big"
polynomial = 0x1021
init       = 0xFFFF

[[frame.field]]
holds  = "weight"
offset = 3
width  = 3
order  = "little"
signed = "twos-complement"
scale  = 0.01
unit   = "g"

[[frame.field]]
holds  = "temperature"
offset = 6
width  = 2
order  = "big"
signed = "twos-complement"
scale  = 0.1
unit   = "°C"

[[frame.field]]
holds  = "status"
offset = 2
mask   = 0x81
values = { 0x00 = "moving", 0x01 = "stable", 0x80 = "overload", 0x81 = "overload" }
"""
"""What a user would write about this scale."""


def check(data: bytes) -> int:
    """CRC-16/CCITT-FALSE, bit by bit."""
    register = 0xFFFF
    for byte in data:
        for bit in range(8):
            carry = (register >> 15) ^ (byte >> (7 - bit) & 1)
            register = (register << 1) & 0xFFFF
            if carry:
                register ^= 0x1021
    return register


def frame(weight_g: float, temperature_c: float = 21.5, *, at_rest: bool = True, over: bool = False) -> bytes:
    steps = round(weight_g * 100) % (1 << 24)
    tenths = round(temperature_c * 10) % (1 << 16)
    body = bytes(
        [
            0xA5,
            10,
            at_rest | over << 7,
            steps % 256,
            steps // 256 % 256,
            steps // 65536,
            tenths // 256,
            tenths % 256,
        ]
    )
    code = check(body)
    return body + bytes([code // 256, code % 256])


class FramedScale:
    """Weights in, frames out, while somebody keeps it awake."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._awake_until_s = 0.0
        self._tare_g = self._on_pan_g = 0.0
        self.commands: list[bytes] = []

    def take_command(self, data: bytes) -> None:
        for number in data:
            command = bytes([number])
            self.commands.append(command)
            if command in (START, AWAKE):
                self._awake_until_s = self._clock() + AWAKE_S
            elif command == TARE:
                self._tare_g = self._on_pan_g

    def frames(self, weights_g: Iterable[float]) -> Iterator[bytes]:
        """Give a frame for each weight; nothing while it sleeps, and the weight waits."""
        for weight_g in weights_g:
            while self._clock() >= self._awake_until_s:
                yield b""
            self._on_pan_g = weight_g
            yield frame(weight_g - self._tare_g)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rate", type=float, default=10.0, help="frames per second")
    parser.add_argument("--weights-from", type=Path, help="a file with one weight in g a line")
    options = parser.parse_args()
    text = options.weights_from.read_text(encoding="utf-8") if options.weights_from else "0"
    weights = [float(line) for line in text.split()]
    scale = FramedScale()
    with PtyInstrument() as instrument:
        print(instrument.port, flush=True)  # noqa: T201
        endless = itertools.chain(weights, itertools.repeat(weights[-1]))
        instrument.send_lines(scale.frames(endless), options.rate, 0.3, scale.take_command)


if __name__ == "__main__":
    main()

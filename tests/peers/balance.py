"""A stand-in laboratory balance that sends status-prefixed lines; also a program.

``python tests/peers/balance.py --rate 10 --weights-from weights.txt`` prints the port to open and sends the
weights of the file, one a line, from the moment somebody opens it; the last one is repeated for ever.
``T`` and a line end set it to zero.
"""

from __future__ import annotations

import argparse
import itertools
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

try:
    from tests.peers.pty_instrument import PtyInstrument
except ImportError:  # run as a program
    from pty_instrument import PtyInstrument  # type: ignore[import-not-found, no-redef]

GRAMS_PER_UNIT = {"g": 1.0, "kg": 1000.0}


def balance_line(weight_g: float, *, stable: bool = True, unit: str = "g", end: str = "\r\n") -> bytes:
    """Write a weight as a balance prints it: sign, then the digits padded by blanks."""
    header = "ST" if stable else "US"
    value = abs(weight_g) / GRAMS_PER_UNIT[unit]
    decimals = 1 if unit == "g" else 4
    sign = "-" if weight_g < 0 else "+"
    return f"{header},GS,{sign}{value:9.{decimals}f} {unit}{end}".encode("ascii")


class Balance:
    """Weights in, lines out; remembers the tare."""

    def __init__(self, unit: str = "g") -> None:
        self._unit = unit
        self._on_pan_g = 0.0
        self._tare_g = 0.0

    def lines(self, weights_g: Iterable[float]) -> Iterator[bytes]:
        """Give a line for each weight; moving where it differs from the one before."""
        for weight_g in weights_g:
            stable = abs(weight_g - self._on_pan_g) < 0.1
            self._on_pan_g = weight_g
            yield balance_line(weight_g - self._tare_g, stable=stable, unit=self._unit)

    def take_command(self, text: bytes) -> None:
        """Obey what the host sends."""
        if text.strip() == b"T":
            self._tare_g = self._on_pan_g


def logged(lines: Iterable[bytes], path: Path) -> Iterator[bytes]:
    """Pass lines on, and write down when each has been sent: when the next one is asked for."""
    with path.open("w", encoding="ascii") as log:
        for line in lines:
            yield line
            log.write(f"{time.monotonic()}\n")
            log.flush()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rate", type=float, default=10.0, help="lines per second")
    parser.add_argument("--weights-from", type=Path, help="a file with one weight in g a line")
    parser.add_argument("--unit", choices=sorted(GRAMS_PER_UNIT), default="g")
    parser.add_argument("--settle", type=float, default=0.3, help="seconds from opening to the first line")
    parser.add_argument("--once", action="store_true", help="pull the cable after the last weight")
    parser.add_argument("--log", type=Path, help="write there when each line went off: monotonic clock, s")
    options = parser.parse_args()
    text = options.weights_from.read_text(encoding="utf-8") if options.weights_from else "0"
    weights = [float(line) for line in text.split()]
    balance = Balance(options.unit)
    with PtyInstrument() as instrument:
        print(instrument.port, flush=True)  # noqa: T201
        endless = weights if options.once else itertools.chain(weights, itertools.repeat(weights[-1]))
        lines = balance.lines(endless)
        if options.log:
            lines = logged(lines, options.log)
        instrument.send_lines(lines, options.rate, options.settle, balance.take_command)
        time.sleep(options.settle)  # what is still in a cable that is pulled is lost


if __name__ == "__main__":
    main()

"""A stand-in home-made instrument that prints its own clock, a weight and a temperature; also a program.

``python tests/peers/microcontroller.py --rate 10 --weights-from weights.txt --temperature 93.5`` prints the
port to open and sends ``time_ms,weight,temperature`` lines from the moment somebody opens it.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterable, Iterator
from pathlib import Path

try:
    from tests.peers.pty_instrument import PtyInstrument
except ImportError:  # run as a program
    from pty_instrument import PtyInstrument  # type: ignore[import-not-found, no-redef]

FORMAT = "{time_ms},{weight:.2f},{temperature:.1f}"


def microcontroller_lines(
    weights_g: Iterable[float], temperature_c: float, rate_hz: float, layout: str = FORMAT
) -> Iterator[bytes]:
    """Write one line for each weight; the clock starts with the first."""
    for number, weight_g in enumerate(weights_g):
        time_ms = round(1000 * number / rate_hz)
        line = layout.format(time_ms=time_ms, weight=weight_g, temperature=temperature_c)
        yield line.encode("ascii") + b"\r\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rate", type=float, default=10.0, help="lines per second")
    parser.add_argument("--weights-from", type=Path, help="a file with one weight in g a line")
    parser.add_argument("--temperature", type=float, default=93.5, help="°C")
    parser.add_argument("--format", default=FORMAT, help="of a line, with the names in braces")
    parser.add_argument("--settle", type=float, default=0.3, help="seconds from opening to the first line")
    parser.add_argument("--once", action="store_true", help="pull the cable after the last weight")
    options = parser.parse_args()
    text = options.weights_from.read_text(encoding="utf-8") if options.weights_from else "0"
    weights = [float(line) for line in text.split()]
    with PtyInstrument() as instrument:
        print(instrument.port, flush=True)  # noqa: T201
        endless = weights if options.once else itertools.chain(weights, itertools.repeat(weights[-1]))
        lines = microcontroller_lines(endless, options.temperature, options.rate, options.format)
        instrument.send_lines(lines, options.rate, options.settle)


if __name__ == "__main__":
    main()

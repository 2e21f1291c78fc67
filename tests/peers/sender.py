"""A stand-in instrument that sends what a file holds, byte for byte, and is then unplugged; also a program.

``python tests/peers/sender.py FILE --chunk 32 --rate 10`` prints the port to open, waits until somebody opens
it, sends the file in pieces, and pulls the cable.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from pty_instrument import PtyInstrument


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--chunk", type=int, default=32, help="bytes in a piece")
    parser.add_argument("--rate", type=float, default=10.0, help="pieces per second")
    parser.add_argument("--settle", type=float, default=0.3, help="seconds from opening to the first piece")
    options = parser.parse_args()
    data = options.file.read_bytes()
    pieces = [data[start : start + options.chunk] for start in range(0, len(data), options.chunk)]
    with PtyInstrument() as instrument:
        print(instrument.port, flush=True)  # noqa: T201
        instrument.send_lines(pieces or [b""], options.rate, options.settle)


if __name__ == "__main__":
    main()

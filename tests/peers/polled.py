"""A stand-in bench thermometer that speaks when it is spoken to, in SCPI; also a program.

``python tests/peers/polled.py --temperature 93.4`` prints the port to open. It answers ``MEAS:TEMP?`` and a
line end with one number (or one of each probe, comma-separated), ``*IDN?`` with who it is, and puts anything
else into its queue of errors, which nobody reads.
"""

from __future__ import annotations

import argparse
import threading
import time
from collections.abc import Callable
from typing import Self

try:
    from tests.peers.pty_instrument import PtyInstrument
except ImportError:  # run as a program
    from pty_instrument import PtyInstrument  # type: ignore[import-not-found, no-redef]

NOT_A_NUMBER = "9.91E37"


def number(celsius: float) -> str:
    """Write a temperature as IEEE 488.2 NR3."""
    return f"{celsius:+.4E}"


class PolledThermometer:
    """Requests in, answers out.

    :param answer: gives what is said to the n-th request for a temperature; None for silence
    """

    def __init__(self, answer: Callable[[int], str | None]) -> None:
        self._answer = answer
        self._half = b""
        self.requests: list[float] = []
        self.answered = 0
        self.overlapped = 0
        self.unknown: list[bytes] = []

    def take(self, data: bytes) -> bytes:
        """Take bytes and give what is answered."""
        *lines, self._half = (self._half + data).split(b"\n")
        self.overlapped += max(0, sum(line.strip() == b"MEAS:TEMP?" for line in lines) - 1)
        return b"".join(self._said(line.strip()) for line in lines)

    def _said(self, request: bytes) -> bytes:
        if request == b"*IDN?":
            return b"BENCH,THERMOMETER,0,1\r\n"
        if request != b"MEAS:TEMP?":
            self.unknown.append(request)
            return b""
        self.requests.append(time.monotonic())
        said = self._answer(len(self.requests))
        if said is None:
            return b""
        self.answered += 1
        return said.encode("ascii") + b"\r\n"


class PolledPort:
    """The thermometer at the far end of a cable, in the background."""

    def __init__(self, thermometer: PolledThermometer, delay_s: float = 0.0) -> None:
        self.thermometer, self._delay_s = thermometer, delay_s
        self.instrument = PtyInstrument()
        self.port = self.instrument.port
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="thermometer", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.unplug()

    def unplug(self) -> None:
        """Pull the cable."""
        self._stop.set()
        self._thread.join()
        self.instrument.unplug()

    def _serve(self) -> None:
        while not self._stop.is_set():
            if not self.instrument.listened_to():
                self._stop.wait(0.01)
                continue
            try:
                data = self.instrument.received(0.05)
            except OSError:  # it was closed in between
                continue
            if answer := self.thermometer.take(data):
                self._stop.wait(self._delay_s)
                self.instrument.write(answer)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--temperature", type=float, action="append", help="°C; once for each probe")
    parser.add_argument("--delay", type=float, default=0.05, help="seconds from request to answer")
    options = parser.parse_args()
    said = ",".join(number(celsius) for celsius in options.temperature or [93.4])
    with PolledPort(PolledThermometer(lambda _: said), options.delay) as peer:
        print(peer.port, flush=True)  # noqa: T201
        threading.Event().wait()


if __name__ == "__main__":
    main()

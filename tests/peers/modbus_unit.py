"""A stand-in Modbus unit: pymodbus' own server on TCP or on a pseudo-terminal, in a process of its own.

``python tests/peers/modbus_unit.py --weights-from weights.txt`` prints where to find a unit on TCP; with
``--rtu`` the serial port to open; with ``--rtu --tcp`` a network port with RTU frames. Each request for the
weight gives the next one of the file, and the last for ever. ``--layout`` prints which registers hold what.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import logging
import os
import subprocess
import sys
import tty
from pathlib import Path
from typing import Self

from pymodbus import FramerType
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

LAYOUT = """\
holding 0-1    weight, int32, 0.01 g (high word first)
holding 2-3    the same, low word first
holding 4-5    weight, float32, kg
holding 6-7    not a number, float32
holding 8      1 for a tare
holding 9      requests answered so far
holding 10     0x8000: no value
input 10       temperature, int16, 0.1 degree C
input 11       status: bit 0 stable, bit 3 overload
input 12-13    temperature, float32, degree F
input 20       out of order: exception 4
coil 5         set it for a tare
"""

TEMPERATURE_C = 93.5
_TYPES = ModbusClientMixin.DATATYPE
_READ_HOLDING, _READ_INPUT, _WRITE_COIL, _WRITE_REGISTER = 3, 4, 5, 6
_TARES = ((_WRITE_COIL, 5), (_WRITE_REGISTER, 8))
_STABLE, _OVERLOAD = 1, 8
_LIMIT_G = 2000.0


def registers(value: float, kind: str, word_order: str = "big") -> list[int]:
    """Write a number into registers, as pymodbus does."""
    return ModbusClientMixin.convert_to_registers(value, getattr(_TYPES, kind), word_order)


class Scale:
    """A scale with a probe, behind registers."""

    def __init__(self, weights_g: list[float], busy_every: int = 0) -> None:
        self._weights_g, self._next, self._busy_every = weights_g, 0, busy_every
        self._tare_g = self._shown_g = 0.0
        self._moving = False
        self._asked = 0

    async def act(
        self,
        function: int,
        start: int,
        address: int,
        count: int,
        current: list[int],
        values: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        """Answer a request: pymodbus calls it with the registers, which it may change."""
        self._asked += 1
        if self._busy_every and self._asked % self._busy_every == 0:
            return ExcCodes.DEVICE_BUSY
        if (function, address) in _TARES and values and values[0]:
            self._tare_g = self._shown_g
        elif function == _READ_HOLDING:
            self._write_weight(current, address - start, count)
        elif function == _READ_INPUT:
            if address <= 20 < address + count:
                return ExcCodes.DEVICE_FAILURE
            self._write_probe(current, start)
        return None

    def _write_weight(self, current: list[int], first: int, count: int) -> None:
        if first < 6:
            self._put_on(self._weights_g[min(self._next, len(self._weights_g) - 1)])
            self._next += 1
        net_g = self._shown_g - self._tare_g
        current[0:2] = registers(round(100 * net_g), "INT32")
        current[2:4] = registers(round(100 * net_g), "INT32", "little")
        current[4:6] = registers(net_g / 1000, "FLOAT32")
        current[6:8] = registers(float("nan"), "FLOAT32")
        current[9:11] = [self._asked % 65536, 0x8000]

    def _put_on(self, weight_g: float) -> None:
        self._moving = abs(weight_g - self._shown_g) > 0.1
        self._shown_g = weight_g

    def _write_probe(self, current: list[int], start: int) -> None:
        at = 10 - start
        status = 0 if self._moving else _STABLE
        current[at] = registers(round(10 * TEMPERATURE_C), "INT16")[0]
        current[at + 1] = status | (_OVERLOAD if self._shown_g > _LIMIT_G else 0)
        current[at + 2 : at + 4] = registers(1.8 * TEMPERATURE_C + 32, "FLOAT32")


def device(unit: int, scale: Scale) -> SimDevice:
    """Lay out the registers of a unit."""
    coils = [SimData(0, count=16, values=False, datatype=DataType.BITS)]
    discrete = [SimData(0, count=16, values=False, datatype=DataType.BITS)]
    holding = [SimData(0, count=12, values=0, datatype=DataType.REGISTERS)]
    inputs = [SimData(10, count=11, values=0, datatype=DataType.REGISTERS)]
    return SimDevice(unit, simdata=(coils, discrete, holding, inputs), action=scale.act)


async def serve(options: argparse.Namespace) -> None:
    weights = [0.0]
    if options.weights_from:
        weights = [float(line) for line in options.weights_from.read_text(encoding="utf-8").split()]
    units = [device(options.unit, Scale(weights, options.busy_every))]
    if options.rtu and not options.tcp:
        await _serve_on_pty(units, options.unit)
        return
    framer = FramerType.RTU if options.rtu else FramerType.SOCKET
    server = ModbusTcpServer(units, framer=framer, address=("127.0.0.1", options.port))
    await server.serve_forever(background=True)
    port = server.transport.sockets[0].getsockname()[1]  # type: ignore[attr-defined]  # a listening one has them
    print(f"{'rtu+tcp' if options.rtu else 'tcp'}://127.0.0.1:{port}", flush=True)  # noqa: T201
    await server.serving


async def _serve_on_pty(units: list[SimDevice], number: int) -> None:
    """Serve on one pseudo-terminal and print another, joined back to back like two ports by a cable.

    Both stay open here: with nobody at its far end, a pseudo-terminal reads as broken. What is meant for
    another unit gets no answer, as on a real line; pymodbus' server would send exception 4.
    """
    ours, far = os.openpty()
    theirs, near = os.openpty()
    tty.setraw(far)
    tty.setraw(near)
    loop = asyncio.get_running_loop()
    loop.add_reader(ours, lambda: os.write(theirs, os.read(ours, 4096)))

    def pass_on() -> None:
        request = os.read(theirs, 4096)
        if request[0] == number:
            os.write(ours, request)

    loop.add_reader(theirs, pass_on)
    server = ModbusSerialServer(units, port=os.ttyname(far), baudrate=19200)
    await server.serve_forever(background=True)
    print(os.ttyname(near), flush=True)  # noqa: T201
    await server.serving


class ModbusUnit:
    """The unit as a process; it ends with the ``with`` block."""

    def __init__(
        self, *options: str, weights_g: list[float] | None = None, folder: Path | None = None
    ) -> None:
        self._command = [sys.executable, __file__, *options]
        if weights_g is not None:
            assert folder is not None
            weights = folder / "weights.txt"
            weights.write_text("\n".join(map(str, weights_g)), encoding="utf-8")
            self._command += ["--weights-from", str(weights)]

    def __enter__(self) -> Self:
        self._process = subprocess.Popen(self._command, stdout=subprocess.PIPE, text=True)
        assert self._process.stdout is not None
        self.place = self._process.stdout.readline().strip()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()
        self._process.communicate()

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        with contextlib.suppress(ProcessLookupError):
            self._process.kill()
        self._process.wait()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rtu", action="store_true", help="frames of a serial line, on a pseudo-terminal")
    parser.add_argument("--tcp", action="store_true", help="with --rtu: over TCP all the same")
    parser.add_argument("--port", type=int, default=0, help="on TCP; 0 for any that is free")
    parser.add_argument("--unit", type=int, default=1)
    parser.add_argument("--weights-from", type=Path, help="a file with one weight in g a line")
    parser.add_argument("--busy-every", type=int, default=0, help="be busy for every so many-th request")
    parser.add_argument(
        "--silent-for-others", action="store_true", help="say nothing for another unit's number"
    )
    parser.add_argument("--layout", action="store_true", help="print the registers and end")
    options = parser.parse_args()
    if options.layout:
        print(LAYOUT, end="")  # noqa: T201
        return
    logging.getLogger("pymodbus").addHandler(logging.NullHandler())
    asyncio.run(serve(options))


if __name__ == "__main__":
    main()
